//! Before and after: every mended place enlarged over a checker and at print size, as it was and as it is.
//!
//! Takes the tile before its mend and, once that is proven, after it; yields a PNG. Knows no files and judges nothing.

use crate::codec::picture;
use crate::finding::{Area, Finding, Grade, Kind};
use crate::pipeline::check::words;
use crate::pipeline::mockup::canvas::{BLACK, Box4, Canvas, GRAY, LIGHT};
use crate::pipeline::mockup::held::page::{BADGE, BODY, COLUMN, MARGIN, PER_INCH, RIGHT, SMALL, WIDTH};
use crate::pipeline::mockup::held::panel::{self, Zoom};
use crate::pipeline::mockup::held::prose::{Prose, sentence};
use crate::pipeline::mockup::held::{focus, marks};
use crate::pipeline::mockup::look::Look;
use crate::pipeline::mockup::plane::Plane;
use crate::pipeline::mockup::settings::MockupError;
use crate::pipeline::mockup::text::{Font, Style};
use crate::spec::Repeat;
use crate::tile::{Raster, Resolution, Tile};

/// Most places that are shown.
const MOST_PLACES: usize = 12;

/// Sides of an enlarged panel: 60 x 50 tile pixels at eight times; and of the panel at print size beside it.
const ENLARGED: [u32; 2] = [480, 400];
const PRINTED: [u32; 2] = [COLUMN as u32 - ENLARGED[0] - GAP as u32, ENLARGED[1]];
const GAP: i64 = 8;

/// How high a place is with its caption and the white below it, in pixels.
const HEIGHT: i64 = 56 + ENLARGED[1] as i64 + 36;

/// Everything that will be mended, as it is before.
pub struct Before {
    name: String,
    repeat: Repeat,
    resolution: Option<Resolution>,
    sides: [u32; 2],
    places: Vec<Place>,
    /// Places beyond those shown.
    more: usize,
}

/// One place: what is looked at, and the two panels of how it was.
struct Place {
    caption: String,
    window: Window,
    panels: [Raster; 2],
}

/// What the two panels of a place show.
#[derive(Clone, Copy)]
struct Window {
    /// The first tile pixel that is enlarged, and the first at print size.
    start: [i64; 2],
    from: [i64; 2],
    /// Tile pixels for each picture pixel at print size.
    step: [(u32, u32); 2],
}

/// A place of a finding and the point to look at.
struct Seen<'a> {
    /// Which place of its finding it is, the largest first, and which finding.
    round: usize,
    number: usize,
    finding: &'a Finding,
    center: [i64; 2],
    /// Whether it is the finding's only place, so that the finding's words say where.
    alone: bool,
}

impl Seen<'_> {
    fn caption(&self, tile: &Tile) -> String {
        if self.alone {
            return sentence(&self.finding.says);
        }
        let sides = [tile.raster.width(), tile.raster.height()];
        let [x, y] = [0, 1].map(|i| self.center[i].rem_euclid(sides[i].into()) as u32);
        sentence(&format!("{}: {}", self.finding.says, words::place(Area { x, y, width: 1, height: 1 }, tile)))
    }
}

impl Before {
    /// Looks at what is about to be mended; `None` when no pixel is.
    ///
    /// # Errors
    /// [`MockupError::NoCanvas`], which no tile provokes.
    pub fn of(tile: &Tile, name: &str, findings: &[Finding], repeat: Repeat) -> Result<Option<Self>, MockupError> {
        let plane = Plane::new(&tile.raster, repeat);
        let shown = marks::view(plane, false);
        let mends =
            |finding: &&Finding| finding.grade == Grade::Mend && !finding.silenced && focus::is_thin(finding.kind);
        let mut seen: Vec<Seen<'_>> = Vec::new();
        for (number, finding) in findings.iter().filter(mends).enumerate() {
            let places = if finding.kind == Kind::AlphaFringe {
                // The edges meet in corners and are still places of their own.
                let edge =
                    |area: &Area| marks::places(&Finding { boxes: vec![*area], ..finding.clone() }, plane, shown);
                finding.boxes.iter().flat_map(edge).collect()
            } else {
                marks::places(finding, plane, shown)
            };
            let alone = places.len() == 1;
            seen.extend((0..).zip(places).map(|(round, place)| {
                let center = focus::point(plane, finding.kind, place.spot);
                Seen { round, number, finding, center, alone }
            }));
        }
        if seen.is_empty() {
            return Ok(None);
        }
        // One place of each finding before a second of any.
        seen.sort_by_key(|one| (one.round, one.number));
        let more = seen.len().saturating_sub(MOST_PLACES);
        seen.truncate(MOST_PLACES);
        seen.sort_by_key(|one| (one.number, one.round));
        let places = seen.iter().map(|one| {
            let window = Window::around(one.center, tile.meta.resolution);
            Ok(Place { caption: one.caption(tile), window, panels: window.panels(plane)? })
        });
        Ok(Some(Self {
            name: name.into(),
            repeat,
            resolution: tile.meta.resolution,
            sides: [tile.raster.width(), tile.raster.height()],
            places: places.collect::<Result<_, MockupError>>()?,
            more,
        }))
    }

    /// The picture, 1600 pixels wide, with the mended tile beside how it was. `estimated` is how many of the `mended` pixels
    /// have a color that had to be told from their neighbors.
    ///
    /// # Errors
    /// [`MockupError::Font`], or when the encoder refuses; nothing a valid tile provokes.
    pub fn beside(&self, raster: &Raster, mended: u64, estimated: u64) -> Result<Vec<u8>, MockupError> {
        let plane = Plane::new(raster, self.repeat);
        let font = Font::bundled()?;
        let mut head = Prose::new(font, (WIDTH - 2 * MARGIN) as f32);
        head.add(&self.name, Style::bold(44.0), BLACK, 2);
        head.space(4.0);
        head.add(&self.facts(mended, estimated), Style::regular(BODY), GRAY, 3);
        let top = MARGIN + head.height() as i64 + 84;
        let mut foot = Prose::new(font, (WIDTH - 2 * MARGIN) as f32);
        if self.more > 0 {
            foot.add(
                &format!("And {}.", words::count(self.more as u64, "more mended places")),
                Style::regular(BODY),
                GRAY,
                1,
            );
        }
        foot.add(self.legend(), Style::regular(SMALL), GRAY, 3);
        let foot_at = top + self.places.len() as i64 * HEIGHT;
        let mut canvas = Canvas::new(WIDTH as u32, (foot_at + foot.height() as i64 + MARGIN) as u32)?;
        head.draw(&mut canvas, MARGIN as f32, MARGIN as f32);
        canvas.fill(Box4::new(MARGIN, top - 66, WIDTH - 2 * MARGIN, 2), LIGHT);
        for (word, left) in [("before", MARGIN), ("after", RIGHT)] {
            canvas.text(word, Style::bold(36.0), left as f32, (top - 16) as f32, BLACK);
        }
        for (row, place) in self.places.iter().enumerate() {
            let top = top + row as i64 * HEIGHT;
            canvas.badge(row + 1, (MARGIN + BADGE as i64) as f32, (top + 28) as f32, BADGE - 2.0);
            let caption = font.wrap(&place.caption, Style::regular(SMALL), (WIDTH - 2 * MARGIN - 62) as f32, 1);
            for line in caption {
                canvas.text(&line, Style::regular(SMALL), (MARGIN + 62) as f32, (top + 38) as f32, BLACK);
            }
            place.window.set_down(&mut canvas, &place.panels, MARGIN, top + 56);
            place.window.set_down(&mut canvas, &place.window.panels(plane)?, RIGHT, top + 56);
        }
        foot.draw(&mut canvas, MARGIN as f32, foot_at as f32);
        let drawn = canvas.finish()?;
        let [width, height] = ENLARGED.map(i64::from);
        let parts = [MARGIN, RIGHT].map(|left| Box4::new(left, top + 56, width, height));
        let look = Look::at(true, &parts, [drawn.width(), drawn.height()]);
        Ok(look.written_into(picture::encode_opaque_png(&drawn, self.resolution.map(|_| PER_INCH))?))
    }

    fn facts(&self, mended: u64, estimated: u64) -> String {
        let [width, height] = self.sides.map(|side| words::count(side.into(), ""));
        let all = words::count(mended, "px");
        let color = match estimated {
            0 => "every color is the one the file held".into(),
            some => format!("the color of {} was told from their neighbors", words::count(some, "px")),
        };
        format!(
            "ready, mended · {} x {} px · {all} made opaque; {color}; nothing else changed",
            width.trim(),
            height.trim()
        )
    }

    fn legend(&self) -> &'static str {
        if self.resolution.is_some() {
            "Enlarged 8 times on a checker, and beside it at print size on white; the frame shows what is enlarged."
        } else {
            "Enlarged 8 times on a checker, and beside it pixel for pixel on white; the frame shows what is enlarged."
        }
    }
}

impl Window {
    fn around(center: [i64; 2], resolution: Option<Resolution>) -> Self {
        let step = resolution.map_or([(1, 1); 2], |found| {
            [found.x, found.y]
                .map(|per_inch| ((per_inch.clamp(1.0, 10_000.0) * 1000.0).round() as u32, (PER_INCH * 1000.0) as u32))
        });
        let start = [0, 1].map(|i| center[i] - Zoom::MOST.covers(i64::from(ENLARGED[i])) / 2);
        let from = [0, 1].map(|i| {
            let shown = f64::from(PRINTED[i]) * f64::from(step[i].0) / f64::from(step[i].1);
            center[i] - (shown / 2.0) as i64
        });
        Self { start, from, step }
    }

    fn panels(&self, plane: Plane<'_>) -> Result<[Raster; 2], MockupError> {
        Ok([
            panel::enlarged(plane, self.start, Zoom::MOST, ENLARGED)?,
            panel::printed(plane, self.from, self.step, PRINTED)?,
        ])
    }

    fn set_down(&self, canvas: &mut Canvas, [enlarged, printed]: &[Raster; 2], left: i64, top: i64) {
        let whole = Box4::new(left, top, ENLARGED[0].into(), ENLARGED[1].into());
        canvas.fill(whole.grown(1), LIGHT);
        canvas.set_down(enlarged, whole.left, whole.top, whole);
        let small = Box4::new(whole.right + GAP, top, PRINTED[0].into(), PRINTED[1].into());
        canvas.fill(small.grown(1), LIGHT);
        canvas.set_down(printed, small.left, small.top, small);
        let onto = |at: i64, i: usize| {
            ((at - self.from[i]) as f64 * f64::from(self.step[i].1) / f64::from(self.step[i].0)).round() as i64
        };
        let covered = ENLARGED.map(|side| Zoom::MOST.covers(side.into()));
        let same = Box4 {
            left: small.left + onto(self.start[0], 0),
            top: small.top + onto(self.start[1], 1),
            right: small.left + onto(self.start[0] + covered[0], 0),
            bottom: small.top + onto(self.start[1] + covered[1], 1),
        };
        canvas.frame(&[same], printed, small.left, small.top, small);
    }
}
