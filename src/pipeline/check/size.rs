//! Size: pixels, print size, resolution tag, divisibility and bytes against the spec.
//!
//! Judges numbers alone; looks at no pixel.

use super::words;
use crate::finding::{Bound, Finding, Grade, Kind, Measure, Reading};
use crate::spec::{Length, MM_PER_INCH, Repeat, Spec};
use crate::tile::{Channels, Tile};

/// A demanded print length may be met this many pixels off: half a pixel rounds either way on both sides.
const ROUNDING: f64 = 1.0;

/// What was measured against the demands of the spec, passed or not.
#[must_use]
pub fn readings(tile: &Tile, spec: &Spec) -> Vec<Reading> {
    let reading = |kind, at: &str, measure| Reading { kind, at: at.into(), measure };
    let mut out = Vec::new();
    let sides = [("width", tile.raster.width(), spec.width), ("height", tile.raster.height(), spec.height)];
    for (name, actual, demanded) in sides {
        match demanded {
            None => {}
            Some(Length::Pixels(wanted)) => {
                let measure = Measure::new(name, f64::from(actual), "px", Bound::Equal, f64::from(wanted));
                out.push(reading(Kind::SizePixels, "the file", measure));
            }
            Some(Length::Millimeters(wanted)) => {
                let off = (f64::from(actual) - pixels_of(wanted, spec)).abs();
                let measure = Measure::new(&format!("{name} off by"), off, "px", Bound::Max, ROUNDING);
                out.push(reading(Kind::SizePrint, "the file", measure));
            }
        }
    }
    if let (Some(wanted), Some(found)) = (spec.resolution, tile.meta.resolution) {
        let off = (found.x - wanted).abs().max((found.y - wanted).abs());
        let measure = Measure::new("resolution off by", off, "per inch", Bound::Max, found.quantum);
        out.push(reading(Kind::SizeResolution, "the file", measure));
    }
    if let Some(limit) = spec.bytes {
        let measure = Measure::new("file size", tile.meta.bytes as f64, "bytes", Bound::Max, limit as f64);
        out.push(reading(Kind::SizeBytes, "the file", measure));
    }
    out
}

/// The pixels of a print length. The configuration refuses a length without a resolution, so there is one.
fn pixels_of(millimeters: f64, spec: &Spec) -> f64 {
    millimeters / MM_PER_INCH * spec.resolution.unwrap_or(300.0)
}

/// All findings on size.
#[must_use]
pub fn findings(tile: &Tile, spec: &Spec) -> Vec<Finding> {
    let (width, height) = (tile.raster.width(), tile.raster.height());
    let mut out = Vec::new();
    let sides_fit =
        side(&mut out, "width", width, spec.width, spec) & side(&mut out, "height", height, spec.height, spec);
    resolution(&mut out, tile, spec, sides_fit);
    divisible(&mut out, width, height, spec);
    if let Some(limit) = spec.bytes
        && tile.meta.bytes > limit
    {
        out.push(whole(
            Kind::SizeBytes,
            Grade::Fault,
            Measure::new("file size", tile.meta.bytes as f64, "bytes", Bound::Max, limit as f64),
            format!("the file is {} and the order takes at most {}", megabytes(tile.meta.bytes), megabytes(limit)),
            "save it with stronger compression, or in fewer colors, and export it again".into(),
        ));
    }
    out
}

/// A finding that concerns the whole file.
fn whole(kind: Kind, grade: Grade, measure: Measure, says: String, remedy: String) -> Finding {
    Finding { kind, grade, silenced: false, boxes: Vec::new(), measure: Some(measure), says, remedy }
}

/// Judges one side; true when it is what the spec demands, false also when the spec demands nothing.
fn side(out: &mut Vec<Finding>, name: &str, actual: u32, demanded: Option<Length>, spec: &Spec) -> bool {
    match demanded {
        None => false,
        Some(Length::Pixels(wanted)) if wanted == actual => true,
        Some(Length::Pixels(wanted)) => {
            out.push(whole(
                Kind::SizePixels,
                Grade::Fault,
                Measure::new(name, f64::from(actual), "px", Bound::Equal, f64::from(wanted)),
                format!(
                    "the {name} is {} and the order wants {}",
                    words::count(actual.into(), "px"),
                    words::count(wanted.into(), "px")
                ),
                format!(
                    "export it {} {}",
                    words::count(wanted.into(), "px"),
                    if name == "width" { "wide" } else { "high" }
                ),
            ));
            false
        }
        Some(Length::Millimeters(wanted)) => {
            let per_inch = spec.resolution.unwrap_or(300.0);
            let pixels = pixels_of(wanted, spec);
            // The millionth is for the division: 30.48 mm at 300 per inch come out a hair above 360.
            if (f64::from(actual) - pixels).abs() <= ROUNDING + 1e-6 {
                return true;
            }
            let actual_mm = f64::from(actual) / per_inch * MM_PER_INCH;
            out.push(whole(
                Kind::SizePrint,
                Grade::Fault,
                Measure::new(&format!("print {name}"), actual_mm, "mm", Bound::Equal, wanted),
                format!(
                    "at {} per inch the {name} prints {} and the order wants {}",
                    plain(per_inch),
                    print_length(actual_mm),
                    print_length(wanted)
                ),
                format!(
                    "export it {} {}",
                    words::count(pixels.round() as u64, "px"),
                    if name == "width" { "wide" } else { "high" }
                ),
            ));
            false
        }
    }
}

fn resolution(out: &mut Vec<Finding>, tile: &Tile, spec: &Spec, sides_fit: bool) {
    let Some(wanted) = spec.resolution else { return };
    let (says, value) = match tile.meta.resolution {
        Some(found) if (found.x - wanted).abs() <= found.quantum && (found.y - wanted).abs() <= found.quantum => return,
        Some(found) => {
            let worse = if (found.x - wanted).abs() >= (found.y - wanted).abs() { found.x } else { found.y };
            let inches = f64::from(tile.raster.width()) / found.x;
            (
                format!(
                    "the file says {} pixels per inch, so it would print {inches:.1} in wide; the order wants {}",
                    plain(worse),
                    plain(wanted)
                ),
                worse,
            )
        }
        None => (
            format!("the file does not say how large it prints; the order wants {} pixels per inch", plain(wanted)),
            0.0,
        ),
    };
    // Only the tag is wrong where the pixels are what the order wants; a mend must not have to convert inks.
    let mendable = sides_fit && tile.meta.channels != Channels::Cmyk && tile.meta.frames <= 1 && tile.meta.pages <= 1;
    let (grade, remedy) = if mendable {
        (Grade::Mend, "nothing: the tag is corrected, no pixel changes".to_string())
    } else {
        (Grade::Fault, format!("export it again at {} pixels per inch", plain(wanted)))
    };
    out.push(whole(
        Kind::SizeResolution,
        grade,
        Measure::new("resolution", value, "per inch", Bound::Equal, wanted),
        says,
        remedy,
    ));
}

fn divisible(out: &mut Vec<Finding>, width: u32, height: u32, spec: &Spec) {
    let mut need = |name: &str, side: u32, parts: u32, grade: Grade, why: &str| {
        if !side.is_multiple_of(parts) {
            out.push(whole(
                Kind::SizeDivisible,
                grade,
                Measure::new(&format!("{name} left over"), f64::from(side % parts), "px", Bound::Max, 0.0),
                format!(
                    "the {name} of {} cannot be cut into {parts} equal parts, which {why} needs",
                    words::count(side.into(), "px")
                ),
                format!(
                    "make the {name} {} or {}",
                    words::count(u64::from(side / parts * parts), "px"),
                    words::count(u64::from(side / parts + 1) * u64::from(parts), "px")
                ),
            ));
        }
    };
    match spec.repeat {
        Some(Repeat::Brick) => need("width", width, 2, Grade::Fault, "a brick repeat"),
        Some(repeat) => {
            if let Some(parts) = repeat.drop_divisor() {
                need("height", height, parts, Grade::Fault, &format!("a {repeat} repeat"));
            }
        }
        None => {}
    }
    if let Some(blocks) = spec.blocks
        && blocks > 0
    {
        need("width", width, blocks, Grade::Advice, "the order sheet");
        need("height", height, blocks, Grade::Advice, "the order sheet");
    }
}

/// A number without needless decimals.
fn plain(value: f64) -> String {
    if (value - value.round()).abs() < 0.05 { format!("{value:.0}") } else { format!("{value:.1}") }
}

fn print_length(mm: f64) -> String {
    format!("{:.1} cm ({:.2} in)", mm / 10.0, mm / MM_PER_INCH)
}

fn megabytes(bytes: u64) -> String {
    if bytes < 1_000_000 { format!("{:.0} kB", bytes as f64 / 1e3) } else { format!("{:.1} MB", bytes as f64 / 1e6) }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::finding::Verdict;
    use crate::tile::{Content, Format, Meta, Profile, Raster, Resolution};

    fn tile(width: u32, height: u32, per_inch: Option<f64>) -> Tile {
        Tile {
            raster: Raster::new(width, height, vec![255; (width * height * 4) as usize]).unwrap(),
            deep: None,
            meta: Meta {
                format: Format::Png,
                bytes: 1000,
                channels: Channels::Rgba,
                bit_depth: 8,
                resolution: per_inch.map(|x| Resolution { x, y: x, quantum: 0.03 }),
                profile: Profile::Untagged,
                interlaced: false,
                frames: 1,
                pages: 1,
                lossy: false,
            },
            content: Content::of(b""),
        }
    }

    fn kinds(tile: &Tile, spec: &Spec) -> Vec<(Kind, Grade)> {
        findings(tile, spec).into_iter().map(|finding| (finding.kind, finding.grade)).collect()
    }

    fn cloth() -> Spec {
        Spec {
            width: Some(Length::Pixels(360)),
            height: Some(Length::Pixels(360)),
            resolution: Some(300.0),
            ..Spec::default()
        }
    }

    #[test]
    fn no_spec_judges_no_size() {
        assert!(findings(&tile(123, 77, None), &Spec::default()).is_empty());
    }

    // PNG third edition, 11.3.4.3: whole pixels per meter. 300 per inch is 11811.02, so 11810 to 11812 are honest.
    #[test]
    fn one_storage_unit_of_png_is_tolerated_and_no_more() {
        for (per_meter, fine) in [(11810, true), (11811, true), (11812, true), (11800, false), (11809, false)] {
            let found = findings(&tile(360, 360, Some(f64::from(per_meter) * 0.0254)), &cloth());
            assert_eq!(found.is_empty(), fine, "{per_meter}: {found:?}");
        }
    }

    #[test]
    fn a_wrong_tag_over_right_pixels_is_mended_and_over_wrong_ones_a_fault() {
        assert_eq!(kinds(&tile(360, 360, Some(72.0)), &cloth()), [(Kind::SizeResolution, Grade::Mend)]);
        assert_eq!(kinds(&tile(360, 360, None), &cloth()), [(Kind::SizeResolution, Grade::Mend)]);
        assert_eq!(
            kinds(&tile(361, 360, None), &cloth()),
            [(Kind::SizePixels, Grade::Fault), (Kind::SizeResolution, Grade::Fault)]
        );
        let free = Spec { width: None, ..cloth() };
        assert_eq!(kinds(&tile(360, 360, Some(72.0)), &free), [(Kind::SizeResolution, Grade::Fault)]);
    }

    // Common practice: 12 in of cloth at 300 per inch are 3600 px; a length tolerates one pixel of rounding.
    #[test]
    fn a_print_length_becomes_pixels() {
        let spec = Spec { width: Some(Length::Millimeters(30.48)), resolution: Some(300.0), ..Spec::default() };
        for (width, fine) in [(358, false), (359, true), (360, true), (361, true), (362, false)] {
            assert_eq!(kinds(&tile(width, 9, Some(300.0)), &spec).is_empty(), fine, "{width}");
        }
        let cloth = Spec { width: Some(Length::Millimeters(304.8)), resolution: Some(300.0), ..Spec::default() };
        assert_eq!(kinds(&tile(3600, 1, Some(300.0)), &cloth), []);
        assert_eq!(kinds(&tile(3602, 1, Some(300.0)), &cloth), [(Kind::SizePrint, Grade::Fault)]);
    }

    #[test]
    fn layouts_need_sides_they_can_divide() {
        let spec = |repeat| Spec { repeat: Some(repeat), ..Spec::default() };
        assert_eq!(kinds(&tile(6, 7, None), &spec(Repeat::HalfDrop)), [(Kind::SizeDivisible, Grade::Fault)]);
        assert_eq!(kinds(&tile(7, 6, None), &spec(Repeat::HalfDrop)), []);
        assert_eq!(kinds(&tile(7, 6, None), &spec(Repeat::Brick)), [(Kind::SizeDivisible, Grade::Fault)]);
        assert_eq!(kinds(&tile(7, 8, None), &spec(Repeat::ThirdDrop)), [(Kind::SizeDivisible, Grade::Fault)]);
        // Common practice: a block of 900 px goes four times into 3600.
        let blocks = Spec { blocks: Some(4), ..Spec::default() };
        assert_eq!(3600 % 4, 0);
        assert_eq!(kinds(&tile(36, 36, None), &blocks), []);
        assert_eq!(kinds(&tile(36, 37, None), &blocks), [(Kind::SizeDivisible, Grade::Advice)]);
        assert_eq!(Verdict::over(&findings(&tile(36, 37, None), &blocks)), Verdict::Sound);
    }

    #[test]
    fn too_many_bytes_are_a_fault() {
        let spec = Spec { bytes: Some(999), ..Spec::default() };
        assert_eq!(kinds(&tile(9, 9, None), &spec), [(Kind::SizeBytes, Grade::Fault)]);
        assert_eq!(kinds(&tile(9, 9, None), &Spec { bytes: Some(1000), ..Spec::default() }), []);
    }
}
