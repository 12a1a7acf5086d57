//! Copies of a tile whose relation to it is known, and lookalikes that are none.

use super::chance::Chance;
use super::{Style, drawn, sides};
use burler::codec::{self, Limits, picture};
use burler::pipeline::mockup::reduce::{Axis, lights};
use burler::pixel::light;
use burler::spec::{Ground, Repeat};
use burler::tile::{Deep, Raster};
use std::collections::HashMap;

/// A tile as it was exported.
#[derive(Clone)]
pub struct Copy {
    pub name: String,
    pub raster: Raster,
    pub deep: Option<Deep>,
    pub repeat: Repeat,
}

impl Copy {
    fn with(&self, raster: Raster) -> Self {
        Self { raster, deep: None, ..self.clone() }
    }
}

/// A tile of a seed.
pub fn original(style: &Style, seed: u64) -> Copy {
    let (width, height) = sides(seed);
    let raster = drawn(style, Repeat::Block, seed, width, height);
    Copy { name: format!("{} {seed}", style.name), raster, deep: None, repeat: Repeat::Block }
}

type Make = fn(&Style, u64, &Copy, &mut Chance) -> Option<Copy>;

/// Every kind of copy, and whether its colors are others.
pub const KINDS: &[(&str, Make, bool)] = &[
    ("16 bits", |_, _, base, _| Some(Copy { deep: Some(deepened(&base.raster)), ..base.clone() }), false),
    ("moved", |_, _, base, chance| Some(base.with(anywhere(&base.raster, chance))), false),
    ("turned", |_, _, base, chance| Some(base.with(quarters(&base.raster, chance.whole(1, 3)))), false),
    ("mirrored", |_, _, base, _| Some(base.with(mirrored(&base.raster))), false),
    (
        "mirrored, turned, moved",
        |_, _, base, chance| {
            let raster = quarters(&mirrored(&base.raster), chance.whole(0, 3));
            Some(base.with(anywhere(&raster, chance)))
        },
        false,
    ),
    ("JPEG 90", |style, _, base, _| opaque(style).then(|| base.with(jpeg(&base.raster, 90))), false),
    ("JPEG 70", |style, _, base, _| opaque(style).then(|| base.with(jpeg(&base.raster, 70))), false),
    (
        "JPEG 50, moved, turned",
        |style, _, base, chance| {
            let raster = quarters(&anywhere(&base.raster, chance), chance.whole(0, 3));
            opaque(style).then(|| base.with(jpeg(&raster, 50)))
        },
        false,
    ),
    ("half size", |_, _, base, _| Some(base.with(scaled(&base.raster, 0.5))), false),
    (
        "scaled, moved",
        |_, _, base, chance| {
            let raster = anywhere(&base.raster, chance);
            Some(base.with(scaled(&raster, chance.between(0.5, 0.95))))
        },
        false,
    ),
    (
        "scaled, turned, JPEG 80",
        |style, _, base, chance| {
            let raster = quarters(&base.raster, chance.whole(1, 3));
            opaque(style).then(|| base.with(jpeg(&scaled(&raster, chance.between(0.5, 0.95)), 80)))
        },
        false,
    ),
    ("laid otherwise", |_, _, base, chance| Some(relaid(base, chance)), false),
    ("recolored: palette", |_, _, base, chance| Some(base.with(exchanged(&base.raster, chance)?)), true),
    ("recolored: curves", |_, _, base, chance| Some(base.with(curved(&base.raster, chance))), true),
    (
        "recolored, moved, turned",
        |_, _, base, chance| {
            let raster = curved(&anywhere(&base.raster, chance), chance);
            Some(base.with(quarters(&raster, chance.whole(0, 3))))
        },
        true,
    ),
    (
        "recolored, JPEG 85",
        |style, _, base, chance| opaque(style).then(|| base.with(jpeg(&curved(&base.raster, chance), 85))),
        true,
    ),
];

/// What is not the same, however alike.
pub const LOOKALIKES: &[(&str, Make)] = &[
    ("another seed", |style, seed, base, _| {
        let (width, height) = (base.raster.width() as usize, base.raster.height() as usize);
        Some(base.with(drawn(style, Repeat::Block, seed + 1_000_003, width, height)))
    }),
    ("another seed, its palette", |style, seed, base, _| {
        let (width, height) = (base.raster.width() as usize, base.raster.height() as usize);
        Some(base.with(in_palette(&drawn(style, Repeat::Block, seed + 2_000_003, width, height), &base.raster)))
    }),
    ("one place edited", |style, seed, base, chance| {
        let (width, height) = (base.raster.width() as usize, base.raster.height() as usize);
        let other = drawn(style, Repeat::Block, seed + 3_000_017, width, height);
        let raster = patched(&base.raster, &in_palette(&other, &base.raster), chance, 5);
        visibly(&base.raster, &raster).then(|| base.with(raster))
    }),
    ("halves of a half exchanged", |_, _, base, _| {
        let raster = halves(&base.raster);
        visibly(&base.raster, &raster).then(|| base.with(raster))
    }),
];

fn opaque(style: &Style) -> bool {
    style.ground == Ground::Opaque
}

fn from(width: u32, height: u32, pixel: impl Fn(u32, u32) -> [u8; 4]) -> Raster {
    let samples = (0..height).flat_map(|y| (0..width).map(move |x| (x, y))).flat_map(|(x, y)| pixel(x, y)).collect();
    Raster::new(width, height, samples).expect("a size")
}

/// Moved on the torus.
pub fn moved(raster: &Raster, right: i64, down: i64) -> Raster {
    from(raster.width(), raster.height(), |x, y| raster.wrapped(i64::from(x) - right, i64::from(y) - down))
}

/// Moved by chance.
pub fn anywhere(raster: &Raster, chance: &mut Chance) -> Raster {
    let [right, down] = [raster.width(), raster.height()].map(|side| i64::from(chance.whole(1, side - 1)));
    moved(raster, right, down)
}

/// Turned clockwise.
pub fn quarters(raster: &Raster, count: u32) -> Raster {
    (0..count).fold(raster.clone(), |raster, _| {
        from(raster.height(), raster.width(), |x, y| raster.pixel(y, raster.height() - 1 - x))
    })
}

/// Mirrored left to right.
pub fn mirrored(raster: &Raster) -> Raster {
    from(raster.width(), raster.height(), |x, y| raster.pixel(raster.width() - 1 - x, y))
}

/// The same values as 16 bits.
pub fn deepened(raster: &Raster) -> Deep {
    Deep(raster.samples().iter().map(|&sample| u16::from(sample) * 257).collect())
}

/// Through a lossy coder and back.
pub fn jpeg(raster: &Raster, quality: u8) -> Raster {
    let bytes = picture::encode_jpeg(raster, quality, None).expect("a picture");
    codec::decode(&bytes, &Limits::default(), Vec::new()).expect("our own picture").raster
}

/// Reduced by area means in linear light, alpha too.
pub fn scaled(raster: &Raster, by: f32) -> Raster {
    let [width, height] = [raster.width(), raster.height()].map(|side| ((side as f32 * by).round() as u32).max(1));
    let (across, down) = (Axis::new(raster.width(), width, width), Axis::new(raster.height(), height, height));
    let table = light::of_codes();
    let light = lights(&across, &down, |y, row| {
        for (out, pixel) in row.iter_mut().zip(raster.row(y).as_chunks::<4>().0) {
            let alpha = u32::from(pixel[3]);
            let [r, g, b] = [0, 1, 2].map(|c| (u32::from(table[usize::from(pixel[c])]) * alpha / 255) as u16);
            *out = [r, g, b, pixel[3].into()].map(|v: u16| v);
            out[3] = u16::from(pixel[3]) * 257;
        }
    });
    let codes = light::to_codes();
    from(width, height, |x, y| {
        let light = light[(y * width + x) as usize];
        let alpha = u32::from(light[3]).max(1);
        let [r, g, b] = [0, 1, 2].map(|c| codes[(u32::from(light[c]) * 65_535 / alpha).min(65_535) as usize]);
        [r, g, b, ((u32::from(light[3]) + 128) / 257) as u8]
    })
}

/// Two originals beside or on each other as one tile of a brick or a half-drop: half a tile then is a whole repeat, so that
/// the cloth is the original's.
fn relaid(base: &Copy, chance: &mut Chance) -> Copy {
    let (width, height) = (base.raster.width() as usize, base.raster.height() as usize);
    let (repeat, raster) = if chance.odds(2) && width % 2 == 0 {
        // As a brick of twice the height: each row of bricks is moved by half its width, which must hold whole repeats.
        (Repeat::Brick, from(2 * width as u32, height as u32, |x, y| base.raster.wrapped(x.into(), y.into())))
    } else {
        (Repeat::HalfDrop, from(width as u32, 2 * height as u32, |x, y| base.raster.wrapped(x.into(), y.into())))
    };
    Copy { raster, repeat, deep: None, name: base.name.clone() }
}

/// One tile of a half-drop, and the straight tile that makes the same cloth.
pub fn half_drop_and_block(style: &Style, seed: u64, width: usize, height: usize) -> [Raster; 2] {
    let drop = drawn(style, Repeat::HalfDrop, seed, width, height);
    let (wide, half) = (width as u32, height as i64 / 2);
    let straight = from(2 * wide, height as u32, |x, y| {
        // The second column is lowered by half.
        if x < wide { drop.pixel(x, y) } else { drop.wrapped(i64::from(x - wide), i64::from(y) - half) }
    });
    [drop, straight]
}

/// Every color exchanged for another, where there are few.
pub fn exchanged(raster: &Raster, chance: &mut Chance) -> Option<Raster> {
    let mut colors: HashMap<[u8; 3], u32> = HashMap::new();
    for pixel in raster.samples().as_chunks::<4>().0 {
        *colors.entry([pixel[0], pixel[1], pixel[2]]).or_default() += 1;
        if colors.len() > 5000 {
            return None;
        }
    }
    let mut inks: Vec<([u8; 3], u32)> = colors.into_iter().collect();
    inks.sort_by_key(|&(color, count)| (std::cmp::Reverse(count), color));
    let all: u32 = inks.iter().map(|(_, count)| count).sum();
    inks.retain(|(_, count)| count * 1000 > all);
    let mut kept: Vec<([u8; 3], u32)> = Vec::new();
    for ink in inks {
        // Shades that no eye tells apart are one ink; a rare ink is one unless it is a mixed color of smoothed edges.
        let alike = kept.iter().position(|kept| kept.0.iter().zip(ink.0).all(|(a, b)| a.abs_diff(b) <= 2));
        match alike {
            Some(at) => kept[at].1 += ink.1,
            None if ink.1 * 200 > all || mixed(ink.0, &kept).2 > 60.0 => kept.push(ink),
            None => {}
        }
    }
    let inks = kept;
    let inked: u32 = inks.iter().map(|(_, count)| count).sum();
    if inks.len() < 2 || inks.len() > 12 || u64::from(inked) * 100 < u64::from(all) * 80 {
        return None;
    }
    let mut fresh: Vec<[f32; 3]> = Vec::new();
    for _ in &inks {
        let color = (0..200)
            .map(|_| chance.color())
            .find(|color| fresh.iter().all(|other| color.iter().zip(other).any(|(a, b)| (a - b).abs() > 45.0)))?;
        fresh.push(color);
    }
    // A mixed color at an edge is mixed anew from the two inks between which it lies nearest.
    let mut known: HashMap<[u8; 3], [u8; 3]> = HashMap::new();
    let mut out = raster.clone();
    for pixel in out.samples_mut().as_chunks_mut::<4>().0 {
        let own = [pixel[0], pixel[1], pixel[2]];
        let new = *known.entry(own).or_insert_with(|| mixed_anew(own, &inks, &fresh));
        pixel[..3].copy_from_slice(&new);
    }
    Some(out)
}

fn mixed_anew(own: [u8; 3], inks: &[([u8; 3], u32)], fresh: &[[f32; 3]]) -> [u8; 3] {
    let ([i, j], part, _) = mixed(own, inks);
    std::array::from_fn(|c| (fresh[i][c] + (fresh[j][c] - fresh[i][c]) * part).round() as u8)
}

/// Between which two inks a color lies nearest, how far on the way, and how far beside it, squared.
fn mixed(own: [u8; 3], inks: &[([u8; 3], u32)]) -> ([usize; 2], f32, f32) {
    let mut best = ([0; 2], 0.0, f32::MAX);
    for i in 0..inks.len() {
        for j in 0..inks.len() {
            let (a, b) = (inks[i].0.map(f32::from), inks[j].0.map(f32::from));
            let (along, off): (Vec<f32>, Vec<f32>) = (0..3).map(|c| (b[c] - a[c], f32::from(own[c]) - a[c])).unzip();
            let long: f32 = along.iter().map(|v| v * v).sum();
            let part = if long > 0.0 {
                (along.iter().zip(&off).map(|(u, v)| u * v).sum::<f32>() / long).clamp(0.0, 1.0)
            } else {
                0.0
            };
            let far: f32 = along.iter().zip(&off).map(|(u, v)| (v - part * u) * (v - part * u)).sum();
            if far < best.2 {
                best = ([i, j], part, far);
            }
        }
    }
    best
}

/// Channels exchanged, bent and inverted, as curves do.
pub fn curved(raster: &Raster, chance: &mut Chance) -> Raster {
    let orders = [[1, 2, 0], [2, 0, 1], [0, 2, 1], [1, 0, 2], [2, 1, 0]];
    let order = *chance.pick(&orders);
    let inverted = chance.whole(0, 2) as usize;
    let curves: Vec<Vec<u8>> = (0..3)
        .map(|c| {
            let (bend, least, most) =
                (chance.between(0.6, 1.6), chance.between(0.0, 30.0), chance.between(200.0, 255.0));
            (0..256)
                .map(|code| {
                    let v = (code as f32 / 255.0).powf(bend);
                    let v = if c == inverted { 1.0 - v } else { v };
                    (least + (most - least) * v).round() as u8
                })
                .collect()
        })
        .collect();
    let mut out = raster.clone();
    for pixel in out.samples_mut().as_chunks_mut::<4>().0 {
        let own = *pixel;
        for c in 0..3 {
            pixel[c] = curves[c][usize::from(own[order[c]])];
        }
    }
    out
}

/// Another tile in the colors of this one: each of its channels gets the spread of values the other has.
fn in_palette(raster: &Raster, palette: &Raster) -> Raster {
    let mut out = raster.clone();
    for c in 0..3 {
        let sorted = |raster: &Raster| {
            let mut values: Vec<u8> = raster.samples().as_chunks::<4>().0.iter().map(|pixel| pixel[c]).collect();
            values.sort_unstable();
            values
        };
        let (own, wanted) = (sorted(raster), sorted(palette));
        let curve: Vec<u8> = (0..=255_u8)
            .map(|code| {
                let rank = (own.partition_point(|v| *v < code) + own.partition_point(|v| *v <= code)) / 2;
                wanted[(rank * wanted.len() / own.len()).min(wanted.len() - 1)]
            })
            .collect();
        out.samples_mut().as_chunks_mut::<4>().0.iter_mut().for_each(|pixel| pixel[c] = curve[usize::from(pixel[c])]);
    }
    out
}

/// A square of another tile laid in, a `part`th of the sides.
fn patched(raster: &Raster, other: &Raster, chance: &mut Chance, part: u32) -> Raster {
    let (width, height) = (raster.width(), raster.height());
    let (left, top) = (chance.whole(0, width - 1), chance.whole(0, height - 1));
    from(width, height, |x, y| {
        let (u, v) = ((x + width - left) % width, (y + height - top) % height);
        if u < width / part && v < height / part { other.pixel(x, y) } else { raster.pixel(x, y) }
    })
}

/// The halves of the upper half exchanged: the same pieces in another arrangement.
fn halves(raster: &Raster) -> Raster {
    let (width, height) = (raster.width(), raster.height());
    from(
        width,
        height,
        |x, y| if y < height / 2 { raster.pixel((x + width / 2) % width, y) } else { raster.pixel(x, y) },
    )
}

/// Whether one can be told from the other by eye: in some square of a 20th of the side the mean difference is over 12 levels
/// in some channel.
fn visibly(one: &Raster, other: &Raster) -> bool {
    let side = (one.width().min(one.height()) / 20).max(4);
    (0..one.height() / side).any(|j| {
        (0..one.width() / side).any(|i| {
            let mut sums = [0_u32; 4];
            for y in j * side..(j + 1) * side {
                for x in i * side..(i + 1) * side {
                    let (a, b) = (one.pixel(x, y), other.pixel(x, y));
                    sums.iter_mut().enumerate().for_each(|(c, sum)| *sum += u32::from(a[c].abs_diff(b[c])));
                }
            }
            sums.iter().any(|sum| *sum > 12 * side * side)
        })
    })
}

/// Whether, at some whole shift and turn, the colors of one tile are each exactly one color of the other: tried by comparing
/// pixels, without anything of what is to be proven.
pub fn follows(one: &Copy, other: &Copy) -> bool {
    if one.repeat != Repeat::Block || other.repeat != Repeat::Block {
        return false;
    }
    [false, true].into_iter().any(|mirror| {
        (0..4).any(|turn| {
            let raster = quarters(&if mirror { mirrored(&other.raster) } else { other.raster.clone() }, turn);
            // Laid until it is as large: plain drawings are often smaller repeats of one another.
            (0..i64::from(raster.height())).any(|down| {
                (0..i64::from(raster.width())).any(|right| {
                    let mut there: HashMap<[u8; 4], [u8; 4]> = HashMap::new();
                    let mut back: HashMap<[u8; 4], [u8; 4]> = HashMap::new();
                    (0..one.raster.height()).all(|y| {
                        (0..one.raster.width()).all(|x| {
                            // In an order that soon leaves what agrees only at the start.
                            let (x, y) = ((x * 97 + y * 31) % one.raster.width(), (y * 89) % one.raster.height());
                            let own = one.raster.pixel(x, y);
                            let its = raster.wrapped(i64::from(x) - right, i64::from(y) - down);
                            *there.entry(own).or_insert(its) == its && *back.entry(its).or_insert(own) == own
                        })
                    })
                })
            })
        })
    })
}
