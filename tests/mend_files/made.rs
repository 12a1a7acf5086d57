//! Random PNG files with see-through places, written by the rules of the standard alone (PNG third edition, 7 to 11), in
//! every layout that can hold them.
//!
//! Nothing here uses the program's own codec, so that neither can hide the other's mistakes.

use crate::drawn::{Dice, through_multiplied};
use flate2::Compression;
use flate2::write::ZlibEncoder;
use std::io::Write;

/// Color type and bit depth of everything that can be see-through, and whether one clear color makes it so.
pub const LAYOUTS: [(u8, u8, bool); 10] = [
    (6, 8, false),
    (6, 16, false),
    (4, 8, false),
    (4, 16, false),
    (3, 8, false),
    (3, 4, false),
    (3, 2, false),
    (3, 1, false),
    (2, 8, true),
    (0, 8, true),
];

/// One random file, and what is in it.
pub struct Made {
    /// The file.
    pub bytes: Vec<u8>,
    pub width: u32,
    pub height: u32,
    pub color: u8,
    pub depth: u8,
    pub interlaced: bool,
    /// Straight RGBA in the file's own depth; a palette is 8 bits deep.
    pub pixels: Vec<[u16; 4]>,
    /// The largest sample.
    pub most: u16,
    /// Whether there is a pixel that no mend may touch: a clear one.
    pub holes: bool,
    /// Whether clear pixels still hold the color that was drawn.
    pub tells: bool,
}

impl Made {
    /// The file of a seed.
    pub fn of(seed: u64) -> Self {
        let mut dice = Dice(seed);
        // The layouts a mend meets most come more often.
        let pick = dice.below(2 * LAYOUTS.len() as u64) as usize;
        let (color, depth, clear) = LAYOUTS[if pick < LAYOUTS.len() { pick } else { pick % 5 }];
        let (width, height) = (1 + dice.below(48) as u32, 1 + dice.below(40) as u32);
        let most = if depth == 16 { 65535 } else { 255 };
        let gray = matches!(color, 0 | 4);
        let (multiplied, noisy) = (color != 3 && !clear && dice.below(3) == 0, color != 3 && dice.below(4) == 0);
        let flat = |dice: &mut Dice| {
            let [r, g, b] = [0; 3].map(|_| (dice.next() % (u64::from(most) + 1)) as u16);
            if gray { [r, r, r] } else { [r, g, b] }
        };
        let inks: Vec<[u16; 3]> = (0..2 + dice.below(3)).map(|_| flat(&mut dice)).collect();
        let (across, down) = (1 + dice.below(9) as u32, 1 + dice.below(9) as u32);
        let inked = if depth == 1 { 1 } else { inks.len() };
        let mut pixels: Vec<[u16; 4]> = Vec::new();
        for y in 0..height {
            for x in 0..width {
                let [r, g, b] =
                    if noisy { flat(&mut dice) } else { inks[(x / across + y / down * 2) as usize % inked] };
                pixels.push([r, g, b, most]);
            }
        }
        let lines = if depth < 4 && color == 3 { 1 } else { 1 + dice.below(3) };
        for _ in 0..lines {
            let alpha = if clear { 0 } else { 1 + (dice.next() % (u64::from(most) - 1)) as u16 };
            fault(&mut pixels, (width, height), &mut dice, alpha);
        }
        if !clear && depth != 1 && dice.below(8) == 0 {
            let (x, y) = (dice.below(width.into()) as usize, dice.below(height.into()) as usize);
            pixels[y * width as usize + x][3] = 0;
        }
        if multiplied && most == 255 {
            for [r, g, b, a] in &mut pixels {
                for sample in [r, g, b] {
                    *sample = through_multiplied(*sample as u8, *a as u8).into();
                }
            }
        }
        let holes = pixels.iter().any(|pixel| pixel[3] == 0);
        let interlaced = dice.below(3) == 0;
        let (bytes, tells) = (Vec::new(), !clear && !multiplied);
        let mut made = Self { bytes, width, height, color, depth, interlaced, pixels, most, holes, tells };
        made.bytes = made.written(&mut dice, clear);
        made
    }

    /// A file of these pixels, 8 bits deep and without a clear color.
    pub fn from_pixels(width: u32, height: u32, color: u8, pixels: Vec<[u16; 4]>) -> Self {
        let holes = pixels.iter().any(|pixel| pixel[3] == 0);
        let (bytes, depth, interlaced, most) = (Vec::new(), 8, false, 255);
        let mut made = Self { bytes, width, height, color, depth, interlaced, pixels, most, holes, tells: false };
        made.bytes = made.written(&mut Dice(1), false);
        made
    }

    fn written(&mut self, dice: &mut Dice, clear: bool) -> Vec<u8> {
        let mut palette: Vec<[u16; 4]> = Vec::new();
        if self.color == 3 {
            palette = self.pixels.clone();
            palette.sort_unstable();
            palette.dedup();
            if palette.len() > 1 << self.depth {
                self.depth = 8;
            }
            assert!(palette.len() <= 256, "few inks, few alphas");
        }
        // The clear color is one that no opaque pixel has.
        let key = (0..=255).find(|key| !self.pixels.iter().any(|pixel| pixel[0] == *key && pixel[3] > 0));
        let key = key.filter(|_| clear);
        if let Some(key) = key {
            for pixel in self.pixels.iter_mut().filter(|pixel| pixel[3] == 0) {
                *pixel = [key, key, key, 0];
            }
        } else if clear {
            self.pixels.iter_mut().for_each(|pixel| pixel[3] = 255);
            self.holes = false;
        }
        let [a, b, c, d] = self.width.to_be_bytes();
        let [e, f, g, h] = self.height.to_be_bytes();
        let header = [a, b, c, d, e, f, g, h, self.depth, self.color, 0, 0, u8::from(self.interlaced)];
        let mut file = b"\x89PNG\r\n\x1a\n".to_vec();
        append(&mut file, b"IHDR", &header);
        append(&mut file, b"gAMA", &45_455_u32.to_be_bytes());
        let across = (2_000 + dice.below(20_000) as u32).to_be_bytes();
        append(&mut file, b"pHYs", &[&across[..], &across[..], &[1]].concat());
        append(&mut file, b"tEXt", format!("Title\0Oddfathom swatch {}", dice.next()).as_bytes());
        if self.color == 3 {
            let colors: Vec<u8> =
                palette.iter().flat_map(|color| [color[0] as u8, color[1] as u8, color[2] as u8]).collect();
            let alphas: Vec<u8> = palette.iter().map(|color| color[3] as u8).collect();
            append(&mut file, b"PLTE", &colors);
            append(&mut file, b"tRNS", &alphas);
        }
        match (self.color, key) {
            (0, Some(key)) => append(&mut file, b"tRNS", &key.to_be_bytes()),
            (2, Some(key)) => append(&mut file, b"tRNS", &[key.to_be_bytes(); 3].concat()),
            _ => {}
        }
        append(&mut file, b"ofTs", b"safe to copy");
        let mut coder = ZlibEncoder::new(Vec::new(), Compression::fast());
        for (xs, ys) in self.passes() {
            if xs.is_empty() {
                continue;
            }
            for y in ys {
                // Every filter but the first needs a neighbor; none is always allowed (PNG third edition, 9.2).
                coder.write_all(&[0]).expect("memory");
                coder.write_all(&self.packed(&xs, y, &palette)).expect("memory");
            }
        }
        append(&mut file, b"IDAT", &coder.finish().expect("memory"));
        append(&mut file, b"tEXt", b"Comment\0after the pixels");
        append(&mut file, b"IEND", &[]);
        file
    }

    /// Columns and rows of each pass (PNG third edition, 8.2).
    fn passes(&self) -> Vec<(Vec<u32>, Vec<u32>)> {
        let along = |from: u32, step: usize, side: u32| (from..side).step_by(step).collect::<Vec<u32>>();
        if !self.interlaced {
            return vec![(along(0, 1, self.width), along(0, 1, self.height))];
        }
        let passes = [(0, 0, 8, 8), (4, 0, 8, 8), (0, 4, 4, 8), (2, 0, 4, 4), (0, 2, 2, 4), (1, 0, 2, 2), (0, 1, 1, 2)];
        passes.map(|(x, y, dx, dy)| (along(x, dx, self.width), along(y, dy, self.height))).into()
    }

    fn packed(&self, xs: &[u32], y: u32, palette: &[[u16; 4]]) -> Vec<u8> {
        let pixels = xs.iter().map(|x| self.pixels[(y * self.width + x) as usize]);
        if self.color == 3 {
            let places = pixels.map(|pixel| palette.binary_search(&pixel).expect("in the palette") as u8);
            let mut row = vec![0_u8; (xs.len() * usize::from(self.depth)).div_ceil(8)];
            for (i, place) in places.enumerate() {
                let bit = i * usize::from(self.depth);
                row[bit / 8] |= place << (8 - usize::from(self.depth) - bit % 8);
            }
            return row;
        }
        let channels: &[usize] = match self.color {
            0 => &[0],
            2 => &[0, 1, 2],
            4 => &[0, 3],
            _ => &[0, 1, 2, 3],
        };
        let samples = pixels.flat_map(|pixel| channels.iter().map(move |channel| pixel[*channel]));
        if self.depth == 16 {
            samples.flat_map(u16::to_be_bytes).collect()
        } else {
            samples.map(|sample| sample as u8).collect()
        }
    }
}

/// One see-through place: a level, upright or slanted line, whole or partial, a fringe, a dot.
fn fault(pixels: &mut [[u16; 4]], (width, height): (u32, u32), dice: &mut Dice, alpha: u16) {
    let (x, y) = (dice.below(width.into()) as u32, dice.below(height.into()) as u32);
    let (wide, kind, slope) = (1 + dice.below(3) as u32, dice.below(12), dice.below(5) as u32);
    let until = if dice.below(3) == 0 { dice.below(height.into()) as u32 + 1 } else { height };
    for py in 0..until {
        for px in 0..width {
            let hit = match kind {
                0..3 => py.wrapping_sub(y) < wide,
                3..6 => px.wrapping_sub(x) < wide,
                6..9 => (px + slope * py) % width.max(12) < wide,
                9 => px == width - 1 || py == 0,
                10 => px.wrapping_sub(x) < 5 && py.wrapping_sub(y) < 6,
                _ => (px, py) == (x, y),
            };
            if hit {
                pixels[(py * width + px) as usize][3] = alpha;
            }
        }
    }
}

fn append(file: &mut Vec<u8>, name: &[u8; 4], data: &[u8]) {
    file.extend((data.len() as u32).to_be_bytes());
    let body = [name, data].concat();
    file.extend(&body);
    file.extend(crc32fast::hash(&body).to_be_bytes());
}
