//! Art that repeats because it is drawn on a torus, in many styles, deterministic from a seed; and ways to break it.
#![allow(dead_code, reason = "each test binary uses its own part of the generator")]

pub mod broken;
pub mod canvas;
pub mod chance;
pub mod copies;
pub mod edges;
pub mod fault;
pub mod colors;
pub mod flattened;
pub mod joints;
pub mod motif;
pub mod moves;
pub mod others;
pub mod past;
pub mod see_through;
pub mod shape;
pub mod soft;
pub mod stray;
pub mod woven;

use burler::spec::{Ground, Repeat};
use burler::tile::{Channels, Content, Format, Meta, Profile, Raster, Resolution, Tile};
use canvas::Canvas;
use chance::Chance;

/// What a style is like.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Kind {
    /// Regular units or straight lines: a cut can fall on a unit, or look like another unit.
    Regular,
    /// Free art with clear edges.
    Bold,
    /// Free art without clear edges.
    Soft,
    /// Nothing needs to cross the border.
    Empty,
}

/// One style of art.
pub struct Style {
    pub name: &'static str,
    pub kind: Kind,
    pub ground: Ground,
    /// Whether it can be drawn in any layout (everything in it goes through copies).
    pub free: bool,
    pub draw: fn(&mut Chance, &mut Canvas),
}

impl Style {
    /// A number of its own, so that styles do not share their chance.
    pub fn number(&self) -> u64 {
        self.name.bytes().fold(7, |sum, byte| (sum * 31 + u64::from(byte)) % 65_521)
    }
}

const fn style(name: &'static str, kind: Kind, free: bool, draw: fn(&mut Chance, &mut Canvas)) -> Style {
    Style { name, kind, ground: Ground::Opaque, free, draw }
}

const fn clear(name: &'static str, kind: Kind, free: bool, draw: fn(&mut Chance, &mut Canvas)) -> Style {
    Style { name, kind, ground: Ground::Transparent, free, draw }
}

/// Every style.
pub const STYLES: &[Style] = &[
    style("checks", Kind::Regular, false, woven::checks),
    style("weave", Kind::Regular, false, woven::weave),
    style("bricks", Kind::Regular, false, woven::bricks),
    style("plaid", Kind::Regular, false, woven::plaid),
    style("twill", Kind::Regular, false, woven::twill),
    style("stripes", Kind::Regular, false, woven::stripes),
    style("cut stripes", Kind::Regular, false, woven::cut_stripes),
    style("pinstripes", Kind::Regular, false, woven::pinstripes),
    style("slanted stripes", Kind::Regular, false, woven::slanted),
    style("chevron", Kind::Regular, false, woven::chevron),
    style("hatching", Kind::Bold, true, woven::hatching),
    style("scallops", Kind::Regular, false, woven::scallops),
    style("houndstooth", Kind::Regular, false, woven::houndstooth),
    style("patchwork", Kind::Regular, false, woven::patchwork),
    style("frame", Kind::Regular, false, woven::frame),
    style("tossed", Kind::Bold, true, motif::tossed),
    style("thin motifs", Kind::Bold, true, motif::thin),
    style("small repeat", Kind::Regular, false, motif::small_repeat),
    style("sparse", Kind::Empty, true, motif::sparse),
    style("two-color", Kind::Bold, true, motif::two_color),
    style("dark", Kind::Bold, true, motif::dark),
    style("bars", Kind::Bold, true, motif::bars),
    style("grid", Kind::Regular, false, motif::grid),
    style("paper ink", Kind::Empty, true, motif::paper_ink),
    style("lone motif", Kind::Empty, false, motif::lone),
    style("wash", Kind::Soft, true, soft::wash),
    style("gradient", Kind::Soft, false, soft::gradient),
    style("grain", Kind::Soft, true, soft::grain),
    style("clouds", Kind::Soft, true, soft::clouds),
    style("bristles", Kind::Bold, true, soft::bristles),
    style("cells", Kind::Bold, false, soft::cells),
    style("dead leaves", Kind::Bold, true, soft::leaves),
    style("halftone", Kind::Regular, false, soft::halftone),
    style("plain", Kind::Empty, false, soft::plain),
    clear("clear motifs", Kind::Bold, true, motif::clear_motifs),
    clear("clear ink", Kind::Empty, true, motif::clear_ink),
    clear("glow", Kind::Soft, true, motif::glow),
    clear("cutout", Kind::Bold, false, motif::cutout),
    clear("clear wash", Kind::Soft, true, soft::clear_wash),
];

/// The style of a name.
pub fn named(name: &str) -> &'static Style {
    STYLES.iter().find(|style| style.name == name).expect("a style of this name")
}

/// The canvas on which one tile of `width` x `height` repeats as `repeat`: as many tiles side by side as it takes for
/// the plane to repeat straight, with the copies where the layout puts them.
pub fn canvas_for(repeat: Repeat, width: usize, height: usize) -> Canvas {
    if let Some(divisor) = repeat.drop_divisor() {
        let divisor = divisor as usize;
        let copies = (0..divisor).map(|copy| (copy * width, copy * height / divisor)).collect();
        return Canvas::with_copies(width * divisor, height, copies);
    }
    match repeat {
        Repeat::Brick => Canvas::with_copies(width, height * 2, vec![(0, 0), (width / 2, height)]),
        _ => Canvas::new(width, height),
    }
}

/// One tile of a style that joins as `repeat` (a style that is not free always joins as block).
pub fn drawn(style: &Style, repeat: Repeat, seed: u64, width: usize, height: usize) -> Raster {
    drawn_large(style, repeat, seed, width, height, 1.0)
}

/// The same with all lengths `unit` times as large.
pub fn drawn_large(style: &Style, repeat: Repeat, seed: u64, width: usize, height: usize, unit: f32) -> Raster {
    let mut canvas = canvas_for(if style.free { repeat } else { Repeat::Block }, width, height);
    canvas.unit = unit;
    (style.draw)(&mut Chance::new(seed), &mut canvas);
    canvas.cut(0, 0, width, height)
}

/// A tile around pixels, as an untagged PNG of 300 per inch would decode.
pub fn tile(raster: Raster) -> Tile {
    let meta = Meta {
        format: Format::Png,
        bytes: 0,
        channels: Channels::Rgba,
        bit_depth: 8,
        resolution: Some(Resolution { x: 300.0, y: 300.0, quantum: 0.03 }),
        profile: Profile::Untagged,
        interlaced: false,
        frames: 1,
        pages: 1,
        lossy: false,
    };
    Tile { raster, deep: None, meta, content: Content::of(b"drawn") }
}

/// Sides of drawn tiles: some round, one that no block of eight divides, one prime.
pub const SIDES: [usize; 6] = [240, 300, 331, 420, 480, 604];

/// The sides of the tile of a seed.
pub fn sides(seed: u64) -> (usize, usize) {
    let mut chance = Chance::new(seed ^ 0x51DE);
    (*chance.pick(&SIDES), *chance.pick(&SIDES))
}
