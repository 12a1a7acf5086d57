//! A whole repeat brought to one common grid, whatever its sides: what signatures and comparisons look at.
//!
//! Takes a raster and how it is laid, yields area means in linear light as codes. Knows no waves.

use super::wave::{SIDE, Spectrum};
use crate::pipeline::mockup::plane::Plane;
use crate::pipeline::mockup::reduce::{self, Axis};
use crate::pixel::light::{self, FULL};
use crate::spec::Repeat;
use crate::tile::Raster;
use std::sync::LazyLock;

/// A rectangle of the endless cloth from the tile's corner on: so many block repeats, of which a part may be taken.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Extent {
    /// How the tile is laid.
    pub repeat: Repeat,
    /// Pixels of the smallest straight repeat that the laying makes, across and down.
    pub block: [u32; 2],
    /// How many of them are taken.
    pub times: [u32; 2],
    /// Into how many equal parts that is cut, of which the first is taken.
    pub parts: [u32; 2],
}

impl Extent {
    /// One straight repeat of a tile laid as `repeat`: two tiles side by side for a half-drop, one for a block.
    #[must_use]
    pub fn of(raster: &Raster, repeat: Repeat) -> Self {
        let block = match (repeat, repeat.drop_divisor()) {
            (_, Some(n)) => [raster.width() * n, raster.height()],
            (Repeat::Brick, _) => [raster.width(), raster.height() * 2],
            _ => [raster.width(), raster.height()],
        };
        Self { repeat, block, times: [1; 2], parts: [1; 2] }
    }

    /// Pixels across and down, as fractions.
    #[must_use]
    pub fn size(&self) -> [f64; 2] {
        [0, 1].map(|i| f64::from(self.block[i]) * f64::from(self.times[i]) / f64::from(self.parts[i]))
    }
}

/// Red, green and blue under their coverage as sRGB codes, and the coverage; each [`SIDE`] x [`SIDE`] values of 0 to 255.
#[derive(Clone)]
pub struct Grid {
    /// The four channels.
    pub channels: [Vec<f32>; 4],
    /// Width by height of what the grid covers.
    pub aspect: f64,
    /// Their means, taken in light; as codes.
    pub means: [f32; 4],
}

impl Grid {
    /// The means of equal rectangles of the cloth over an extent. Means are taken in linear light, of color times alpha:
    /// what lies under no alpha does not count.
    #[must_use]
    pub fn of(raster: &Raster, extent: &Extent) -> Self {
        let plane = Plane::new(raster, extent.repeat);
        let [across, down] = [0, 1].map(|i| {
            let side = SIDE as u32;
            Axis::new(extent.block[i] * extent.times[i], side * extent.parts[i], side)
        });
        let mut rgba = vec![0; across.source() as usize * 4];
        let table = light::of_codes();
        let lights = reduce::lights(&across, &down, |y, row| {
            plane.row(0, i64::from(y), &mut rgba);
            for (out, &[red, green, blue, alpha]) in row.iter_mut().zip(rgba.as_chunks::<4>().0) {
                let color = [red, green, blue].map(|code| table[usize::from(code)]);
                let covered = u16::from(alpha) * 257;
                *out = if alpha == 255 {
                    [color[0], color[1], color[2], FULL]
                } else {
                    let [red, green, blue] = color.map(|one| light::over(one, alpha, 0));
                    [red, green, blue, covered]
                };
            }
        });
        let curve = &*CURVE;
        let mut sums = [0.0; 4];
        for light in &lights {
            sums.iter_mut().zip(light).for_each(|(sum, light)| *sum += f64::from(*light));
        }
        let means = [0, 1, 2, 3].map(|c| {
            let mean = sums[c] / lights.len() as f64;
            let share = mean / f64::from(FULL);
            (if c == 3 { share } else { light::encode(share) } * 255.0) as f32
        });
        let channels = [0, 1, 2, 3].map(|c| {
            let value = |light: &[u16; 4]| match c {
                3 => f32::from(light[3]) / 257.0,
                _ => curve[usize::from(light[c] >> 4)],
            };
            lights.iter().map(value).collect()
        });
        let [width, height] = extent.size();
        Self { channels, aspect: width / height, means }
    }
}

impl Grid {
    /// The same with waves finer than about `finest` periods damped in light: as a reduction does it, which makes what is fine
    /// and of strong contrast lighter than the mean of its codes.
    #[must_use]
    pub fn softened(mut self, finest: f32) -> Self {
        for (c, channel) in self.channels.iter_mut().enumerate() {
            if channel.iter().all(|value| (value - channel[0]).abs() <= 0.01) {
                continue;
            }
            let light = |code: &f32| light::decode(f64::from(*code) / 255.0) as f32;
            let lights: Vec<f32> = if c == 3 { channel.clone() } else { channel.iter().map(light).collect() };
            let mut waves = Spectrum::of(&lights);
            waves.soften(finest);
            let code = |light: f32| (light::encode(f64::from(light.clamp(0.0, 1.0))) * 255.0) as f32;
            *channel = if c == 3 { waves.field() } else { waves.field().into_iter().map(code).collect() };
        }
        self
    }
}

/// The sRGB code of every 16th light as a fraction: whole codes would lose what lies between them.
static CURVE: LazyLock<Vec<f32>> = LazyLock::new(|| {
    (0..=u32::from(FULL) >> 4)
        .map(|at| (light::encode((f64::from(at) * 16.0 + 7.5) / f64::from(FULL)) * 255.0) as f32)
        .collect()
});
