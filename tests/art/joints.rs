//! Joint fault makers: what comes back displaced, lines too many or too few, light that drifts across the tile.

use burler::tile::Raster;

/// The tile with its lower part sheared to the right, so that its last lines lie `by` pixels aside, level at the edge.
///
/// The last lines are moved by the whole of `by`; above, the shift fades over two fifths of the height.
pub fn sheared(tile: &Raster, by: i64) -> Raster {
    let (width, height) = (tile.width() as usize, tile.height() as usize);
    let (reach, level) = ((height * 2 / 5) as f32, 8.0);
    build(width, height, |x, y| {
        let from_edge = (height - 1 - y) as f32;
        let part = (1.0 - (from_edge - level).max(0.0) / reach).max(0.0);
        let shift = by as f32 * part * part * (3.0 - 2.0 * part);
        let whole = shift.floor();
        let between = shift - whole;
        let left = tile.wrapped(x as i64 - whole as i64 - 1, y as i64);
        let right = tile.wrapped(x as i64 - whole as i64, y as i64);
        if between == 0.0 { right } else { mix(right, left, between) }
    })
}

/// The tile with its first `lines` rows once more below the last.
pub fn doubled(tile: &Raster, lines: u32) -> Raster {
    let (width, height) = (tile.width() as usize, (tile.height() + lines) as usize);
    build(width, height, |x, y| tile.wrapped(x as i64, y as i64))
}

/// The tile without its last `lines` rows.
pub fn missing(tile: &Raster, lines: u32) -> Raster {
    build(tile.width() as usize, (tile.height() - lines) as usize, |x, y| tile.pixel(x as u32, y as u32))
}

/// The tile with light that grows by `part` of itself from the top edge to the bottom one.
pub fn lightened(tile: &Raster, part: f32) -> Raster {
    let height = tile.height() as f32;
    build(tile.width() as usize, tile.height() as usize, |x, y| {
        let light = 1.0 + part * (y as f32 / height - 0.5);
        let [r, g, b, a] = tile.pixel(x as u32, y as u32);
        let lit = |v: u8| (f32::from(v) * light).round().clamp(0.0, 255.0) as u8;
        [lit(r), lit(g), lit(b), a]
    })
}

/// The tile with rows and columns exchanged.
pub fn transposed(tile: &Raster) -> Raster {
    build(tile.height() as usize, tile.width() as usize, |x, y| tile.pixel(y as u32, x as u32))
}

/// The tile with left and right exchanged.
pub fn mirrored(tile: &Raster) -> Raster {
    build(tile.width() as usize, tile.height() as usize, |x, y| tile.pixel(tile.width() - 1 - x as u32, y as u32))
}

fn build(width: usize, height: usize, pixel: impl Fn(usize, usize) -> [u8; 4]) -> Raster {
    let mut rgba = Vec::with_capacity(width * height * 4);
    for y in 0..height {
        for x in 0..width {
            rgba.extend(pixel(x, y));
        }
    }
    Raster::new(width as u32, height as u32, rgba).expect("as many samples as pixels")
}

/// `part` of `b` in `a`, through premultiplied color.
fn mix(a: [u8; 4], b: [u8; 4], part: f32) -> [u8; 4] {
    let (wa, wb) = (f32::from(a[3]) * (1.0 - part), f32::from(b[3]) * part);
    let alpha = wa + wb;
    if alpha <= 0.0 {
        return [0; 4];
    }
    let color = |c: usize| ((f32::from(a[c]) * wa + f32::from(b[c]) * wb) / alpha).round() as u8;
    [color(0), color(1), color(2), alpha.round() as u8]
}
