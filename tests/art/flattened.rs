//! Flattened hairlines: half-transparent lines over sound art, merged onto a paper color as a format without alpha does.

use super::chance::Chance;
use burler::pixel::difference::ciede2000;
use burler::tile::Raster;

/// How much of the paper shows at most, by strength: hardly to be seen, faint, plain, gross.
pub const SHOWS: [f32; 4] = [0.08, 0.2, 0.45, 0.8];

/// How lines lie.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Lay {
    /// One to four lines at any angle from border to border.
    Any,
    /// Level or upright ones.
    Straight,
    /// One on the first or last rows or columns.
    Border,
    /// The joins of a turned drawing: parallel, equally spaced, going on over the borders.
    Joins,
    /// One line of a tenth to a half of a side.
    Part,
}

/// A flattened tile and the truth about it.
pub struct Flattened {
    pub raster: Raster,
    pub lay: Lay,
    /// Straight lines cross this many px and more, 1 to 3.
    pub wide: f32,
    pub paper: [f32; 3],
    /// Per pixel how much of the paper shows, of 255.
    pub mask: Vec<u8>,
    /// Mean CIEDE2000 between before and after, where the line shows at least half of its most.
    pub difference: f32,
    /// Mean CIEDE2000 between neighbors three pixels apart beside it, in the sound art.
    pub around: f32,
}

impl Flattened {
    /// Whether one sees it at 100 %: twice a just noticeable difference, and more than what the art does anyway.
    pub fn visible(&self) -> bool {
        self.difference >= 2.0 && self.difference >= self.around
    }
}

/// A straight band: signed distance of a pixel's middle from its middle line, and whether it goes that far.
type Band = Box<dyn Fn(f32, f32) -> Option<f32>>;

/// Merges half-transparent lines onto a paper; what kind of lines, which paper and where comes from the seed.
pub fn flattened(sound: &Raster, seed: u64, strength: usize) -> Flattened {
    let mut chance = Chance::new(seed ^ 0xF1A7);
    let lay = *chance.pick(&[Lay::Any, Lay::Straight, Lay::Border, Lay::Joins, Lay::Joins, Lay::Part]);
    let (w, h) = (sound.width() as f32, sound.height() as f32);
    let wide = chance.whole(2, 6) as f32 / 2.0;
    let paper = match chance.whole(0, 4) {
        0 | 1 => [255.0; 3],
        2 | 3 => [0.0; 3],
        _ => {
            let (x, y) = (chance.whole(0, sound.width() - 1), chance.whole(0, sound.height() - 1));
            let [r, g, b, _] = sound.pixel(x, y);
            [r, g, b].map(f32::from)
        }
    };
    let bands = bands(&mut chance, lay, wide, w, h);
    // Half of the lines have the soft profile of two edges that meet: each covers t and 1 - t, together 1 - t (1 - t).
    let soft = lay != Lay::Border && chance.odds(2);
    let cover = |x: u32, y: u32| -> f32 {
        if lay == Lay::Straight || lay == Lay::Border {
            let (x, y) = (x as f32 + 0.5, y as f32 + 0.5);
            return f32::from(bands.iter().any(|band| band(x, y).is_some_and(|d| d.abs() < wide.ceil() / 2.0)));
        }
        let mut sum = 0.0;
        for i in 0..16 {
            let (x, y) = (x as f32 + (i % 4) as f32 / 4.0 + 0.125, y as f32 + (i / 4) as f32 / 4.0 + 0.125);
            let one = |d: f32| {
                let t = d / wide + 0.5;
                if soft { (4.0 * t * (1.0 - t)).max(0.0) } else { f32::from((0.0..1.0).contains(&t)) }
            };
            sum += bands.iter().filter_map(|band| band(x, y)).map(one).fold(0.0, f32::max);
        }
        sum / 16.0
    };
    let mut raster = sound.clone();
    let mut mask = Vec::with_capacity((w * h) as usize);
    for y in 0..sound.height() {
        for x in 0..sound.width() {
            let near = bands.iter().any(|band| band(x as f32 + 0.5, y as f32 + 0.5).is_some_and(|d| d.abs() < 4.0));
            let shows = if near { SHOWS[strength] * cover(x, y) } else { 0.0 };
            // An editor stores the alpha of the hairline in 8 bits before it is merged.
            let alpha = (255.0 * (1.0 - shows)).round() / 255.0;
            mask.push((255.0 * (1.0 - alpha)).round() as u8);
            let at = (y as usize * sound.width() as usize + x as usize) * 4;
            for (value, paper) in raster.samples_mut()[at..at + 3].iter_mut().zip(paper) {
                *value = (f32::from(*value) * alpha + paper * (1.0 - alpha)).round() as u8;
            }
        }
    }
    let (difference, around) = seen(sound, &raster, &mask);
    Flattened { raster, lay, wide, paper, mask, difference, around }
}

fn bands(chance: &mut Chance, lay: Lay, wide: f32, w: f32, h: f32) -> Vec<Band> {
    let line = |at: (f32, f32), turn: f32, reach: f32| -> Band {
        let (sin, cos) = turn.sin_cos();
        Box::new(move |x, y| {
            let (dx, dy) = (x - at.0, y - at.1);
            ((dx * cos + dy * sin).abs() <= reach).then_some(dy * cos - dx * sin)
        })
    };
    let level = |at: f32| -> Band { Box::new(move |_, y| Some(y - at)) };
    let upright = |at: f32| -> Band { Box::new(move |x, _| Some(x - at)) };
    let anywhere = |chance: &mut Chance| (chance.between(0.1, 0.9) * w, chance.between(0.1, 0.9) * h);
    match lay {
        Lay::Any => (0..chance.whole(1, 4))
            .map(|_| line(anywhere(chance), chance.between(0.0, std::f32::consts::PI), 1e9))
            .collect(),
        Lay::Straight => (0..chance.whole(1, 4))
            .map(|_| {
                let at =
                    |side: f32, chance: &mut Chance| (chance.between(0.02, 0.98) * side).floor() + wide.ceil() / 2.0;
                if chance.odds(2) { level(at(h, chance)) } else { upright(at(w, chance)) }
            })
            .collect(),
        Lay::Border => {
            let half = wide.ceil() / 2.0;
            vec![match chance.whole(0, 3) {
                0 => level(half),
                1 => level(h - half),
                2 => upright(half),
                _ => upright(w - half),
            }]
        }
        Lay::Joins => {
            let turns = |chance: &mut Chance| chance.whole(1, 4) as f32 * if chance.odds(2) { 1.0 } else { -1.0 };
            let both = chance.odds(2);
            let (across, down, start) = (turns(chance), turns(chance), chance.unit());
            let family = |across: f32, down: f32| -> Band {
                let pitch = 1.0 / (across / w).hypot(down / h);
                Box::new(move |x, y| {
                    Some((((x / w * across + y / h * down + start) + 0.5).rem_euclid(1.0) - 0.5) * pitch)
                })
            };
            let mut bands = vec![family(across, down)];
            if both {
                bands.push(family(across, -down));
            }
            bands
        }
        Lay::Part => {
            let reach = chance.between(0.06, 0.25) * w.min(h);
            vec![line(anywhere(chance), chance.between(0.0, std::f32::consts::PI), reach)]
        }
    }
}

fn seen(sound: &Raster, made: &Raster, mask: &[u8]) -> (f32, f32) {
    let most = mask.iter().copied().max().unwrap_or(0);
    let width = sound.width();
    let on: Vec<(i64, i64)> = (0..mask.len())
        .filter(|at| most > 0 && 2 * u32::from(mask[*at]) >= u32::from(most))
        .map(|at| ((at as u32 % width).into(), (at as u32 / width).into()))
        .collect();
    let rgb = |raster: &Raster, x: i64, y: i64| {
        let [r, g, b, _] = raster.wrapped(x, y);
        [r, g, b]
    };
    let every = on.len() / 400 + 1;
    let (mut difference, mut around, mut n) = (0.0, 0.0, 0.0_f32);
    for &(x, y) in on.iter().step_by(every) {
        difference += ciede2000(rgb(sound, x, y), rgb(made, x, y)) as f32;
        let beside = [(3, 0), (0, 3), (-3, 0), (0, -3)];
        around += beside
            .iter()
            .map(|(right, down)| ciede2000(rgb(sound, x, y), rgb(sound, x + right, y + down)) as f32)
            .sum::<f32>()
            / 4.0;
        n += 1.0;
    }
    (difference / n.max(1.0), around / n.max(1.0))
}
