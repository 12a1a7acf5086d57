//! What every maker of faults takes and gives: a sound tile in, a faulty one with its truth out.

use super::chance::Chance;
use super::{Style, edges, others, see_through};
use burler::finding::{Area, Kind, Verdict};
use burler::spec::Spec;
use burler::tile::Raster;

/// A sound tile that is to be spoiled.
pub struct Case<'a> {
    pub style: &'static Style,
    pub seed: u64,
    /// How many pixels a length of one took when it was drawn.
    pub unit: f32,
    pub sound: &'a Raster,
}

impl Case<'_> {
    /// Chance of its own for each maker.
    pub fn chance(&self, maker: u64) -> Chance {
        Chance::new(self.seed ^ self.style.number() << 32 ^ maker << 48)
    }
}

/// A spoiled tile and what is true of it.
pub struct Faulty {
    pub raster: Raster,
    /// The kind that names it.
    pub kind: Kind,
    /// Kinds that name it as well.
    pub or: Vec<Kind>,
    /// The verdicts that are right: `Sound` where the finding is only told.
    pub verdicts: Vec<Verdict>,
    /// Where the fault is; empty for the whole tile.
    pub truth: Vec<Area>,
    /// What the finding's measure should say, within one, where that has a unit of pixels.
    pub size: Option<f64>,
    /// The order under which it is a fault.
    pub spec: Spec,
}

impl Faulty {
    /// A tile that must be held, for a reason of one kind, under the order that demands nothing.
    pub fn held(raster: Raster, kind: Kind, truth: Vec<Area>) -> Self {
        Self { raster, kind, or: Vec::new(), verdicts: vec![Verdict::Held], truth, size: None, spec: Spec::default() }
    }
}

/// A maker of one sort of fault at four strengths, 0 barely visible to 3 gross. It makes nothing where the fault would
/// leave the pixels as they are, could not be seen, or would be no fault in this art.
pub struct Maker {
    pub name: &'static str,
    /// What the strengths are.
    pub strengths: [&'static str; 4],
    pub make: fn(&Case, usize) -> Option<Faulty>,
}

/// Every maker.
pub const MAKERS: &[Maker] = &[
    Maker {
        name: "break, whole edge",
        strengths: ["a quarter mixed in", "half", "three quarters", "full"],
        make: edges::break_whole,
    },
    Maker {
        name: "break, a third",
        strengths: ["a quarter mixed in", "half", "three quarters", "full"],
        make: edges::break_third,
    },
    Maker {
        name: "break, a tenth, bold art",
        strengths: ["a quarter mixed in", "half", "three quarters", "full"],
        make: edges::break_tenth,
    },
    Maker {
        name: "break, even step, smooth art",
        strengths: ["2 levels", "4 levels", "8 levels", "16 levels"],
        make: edges::even_step,
    },
    Maker { name: "break, cut from a larger picture", strengths: ["-", "-", "-", "as it is cut"], make: edges::crop },
    Maker { name: "shift", strengths: ["1 px", "2 px", "4 px", "8 px"], make: edges::shift },
    Maker { name: "doubled lines", strengths: ["1 line", "2 lines", "3 lines", "8 lines"], make: edges::doubled },
    Maker { name: "missing lines", strengths: ["1 line", "2 lines", "3 lines", "8 lines"], make: edges::missing },
    Maker {
        name: "drift",
        strengths: ["difference 1", "difference 2", "difference 4", "difference 8"],
        make: edges::drift,
    },
    Maker {
        name: "see-through line",
        strengths: ["alpha 240 to 254", "180 to 240", "90 to 180", "20 to 90"],
        make: see_through::hairline,
    },
    Maker {
        name: "see-through edge",
        strengths: ["2 % lost", "20 % lost", "60 % lost", "90 % lost"],
        make: see_through::fringe,
    },
    Maker { name: "hole", strengths: ["5 px across", "8 px", "16 px", "0.3 % of the tile"], make: see_through::gap },
    Maker {
        name: "speck",
        strengths: ["1 pixel, alpha 250", "1 to 4 pixels", "5 specks", "20 specks, clear"],
        make: see_through::speck,
    },
    Maker {
        name: "see-through ground",
        strengths: ["alpha 250", "alpha 200", "alpha 100", "alpha 20"],
        make: see_through::ground,
    },
    Maker {
        name: "see-through line merged onto paper",
        strengths: ["8 % paper", "20 %", "45 %", "80 %"],
        make: others::merged_line,
    },
    Maker { name: "unit aside", strengths: ["1 px", "1 px both ways", "2 px", "3 px"], make: others::stray_unit },
    Maker {
        name: "one color more than ordered",
        strengths: ["3 px square", "6 px", "12 px", "24 px"],
        make: others::one_color_more,
    },
    Maker { name: "color in two shades", strengths: ["difference 0.9", "0.7", "0.5", "0.3"], make: others::twins },
    Maker { name: "colors in between", strengths: ["12 pixels", "30", "80", "200"], make: others::stray_colors },
    Maker { name: "glaring stripes", strengths: ["dark bars of code 110", "80", "50", "10"], make: others::glare },
];

/// Rows and columns of a tile swapped.
pub fn transposed(tile: &Raster) -> Raster {
    let (width, height) = (tile.width(), tile.height());
    let mut rgba = Vec::with_capacity(tile.samples().len());
    for x in 0..width {
        for y in 0..height {
            rgba.extend(tile.pixel(x, y));
        }
    }
    Raster::new(height, width, rgba).expect("as large as before")
}

/// Rows and columns of a place swapped.
pub fn transposed_area(area: Area) -> Area {
    Area { x: area.y, y: area.x, width: area.height, height: area.width }
}

/// The pixels for which `inside` holds, as runs along the rows.
pub fn runs(width: u32, height: u32, inside: impl Fn(u32, u32) -> bool) -> Vec<Area> {
    let mut areas: Vec<Area> = Vec::new();
    for y in 0..height {
        for x in 0..width {
            if inside(x, y) {
                match areas.last_mut() {
                    Some(last) if last.y == y && last.x + last.width == x => last.width += 1,
                    _ => areas.push(Area { x, y, width: 1, height: 1 }),
                }
            }
        }
    }
    areas
}
