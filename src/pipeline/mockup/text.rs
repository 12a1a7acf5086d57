//! Text as outlines: the bundled font shaped, measured and wrapped.
//!
//! Takes any Unicode, yields paths and lines that fit a width. A character the font lacks becomes its empty box.

use crate::pipeline::mockup::settings::MockupError;
use rustybuzz::ttf_parser::{GlyphId, OutlineBuilder};
use std::sync::LazyLock;
use tiny_skia::{Path, PathBuilder, Transform};

static FACE: LazyLock<Option<rustybuzz::Face<'static>>> =
    LazyLock::new(|| rustybuzz::Face::from_slice(include_bytes!("font/OpenSans-Regular.ttf"), 0));

/// How heavy text is drawn.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Weight {
    /// The font as it is.
    Regular,
    /// The font with its outlines thickened.
    Bold,
}

/// How text looks: its size (the em in pixels) and weight.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Style {
    /// The em in pixels.
    pub size: f32,
    /// How heavy.
    pub weight: Weight,
}

impl Style {
    /// Regular text of an em in pixels.
    #[must_use]
    pub fn regular(size: f32) -> Self {
        Self { size, weight: Weight::Regular }
    }

    /// Bold text of an em in pixels.
    #[must_use]
    pub fn bold(size: f32) -> Self {
        Self { size, weight: Weight::Bold }
    }

    /// How far the outlines are thickened on both sides together, and each character moved apart, in pixels.
    #[must_use]
    pub fn thickening(self) -> f32 {
        match self.weight {
            Weight::Regular => 0.0,
            Weight::Bold => self.size * 0.042,
        }
    }
}

/// The bundled font.
#[derive(Clone, Copy)]
pub struct Font {
    face: &'static rustybuzz::Face<'static>,
}

impl Font {
    /// The bundled font, parsed once.
    ///
    /// # Errors
    /// [`MockupError::Font`], which the tests rule out.
    pub fn bundled() -> Result<Self, MockupError> {
        FACE.as_ref().map(|face| Self { face }).ok_or(MockupError::Font)
    }

    /// How wide a line is, in pixels.
    #[must_use]
    pub fn width(&self, text: &str, style: Style) -> f32 {
        self.shape(text, style).last().map_or(0.0, |glyph| glyph.next)
    }

    /// The outlines of a line whose first character starts at `x` on the baseline `y`; `None` when nothing is to be seen.
    #[must_use]
    pub fn path(&self, text: &str, style: Style, x: f32, y: f32) -> Option<Path> {
        let scale = style.size / self.face.units_per_em() as f32;
        let mut all = PathBuilder::new();
        for glyph in self.shape(text, style) {
            let mut outline = Outline(PathBuilder::new());
            if self.face.outline_glyph(glyph.id, &mut outline).is_none() {
                continue;
            }
            let placed = Transform::from_row(scale, 0.0, 0.0, -scale, x + glyph.at.0, y - glyph.at.1);
            if let Some(path) = outline.0.finish().and_then(|path| path.transform(placed)) {
                all.push_path(&path);
            }
        }
        all.finish()
    }

    /// Cuts text into lines at most `width` pixels wide: at spaces, else after `-`, `_`, `.`, `/`, else
    /// anywhere. At most `most` lines; the last one then ends in an ellipsis.
    #[must_use]
    pub fn wrap(&self, text: &str, style: Style, width: f32, most: usize) -> Vec<String> {
        let text = plain(text);
        let (mut lines, mut rest) = (Vec::new(), text.trim());
        while !rest.is_empty() {
            let fitting = self.fitting(rest, style, width);
            let cut = if fitting == rest.len() { fitting } else { last_break(&rest[..fitting]).unwrap_or(fitting) };
            let (line, after) = rest.split_at(cut);
            if lines.len() + 1 == most && !after.trim().is_empty() {
                let room = width - self.width("…", style);
                let short = &rest[..self.fitting(rest, style, room)];
                lines.push(format!("{}…", short.trim_end()));
                break;
            }
            lines.push(line.trim_end().to_string());
            rest = after.trim_start();
        }
        lines
    }

    /// How many bytes of `text` fit into `width`; at least its first character.
    fn fitting(&self, text: &str, style: Style, width: f32) -> usize {
        if self.width(text, style) <= width {
            return text.len();
        }
        // A combining mark stays with what it marks.
        let cuts: Vec<usize> = text
            .char_indices()
            .skip(1)
            .filter(|&(_, c)| !('\u{300}'..='\u{36F}').contains(&c))
            .map(|(at, _)| at)
            .collect();
        let fit = cuts.partition_point(|&cut| self.width(text[..cut].trim_end(), style) <= width);
        cuts.get(fit.saturating_sub(1)).copied().unwrap_or(text.len())
    }

    fn shape(&self, text: &str, style: Style) -> Vec<Glyph> {
        let mut buffer = rustybuzz::UnicodeBuffer::new();
        buffer.push_str(&plain(text));
        buffer.guess_segment_properties();
        let shaped = rustybuzz::shape(self.face, &[], buffer);
        let scale = style.size / self.face.units_per_em() as f32;
        let mut x = 0.0;
        shaped
            .glyph_infos()
            .iter()
            .zip(shaped.glyph_positions())
            .map(|(info, position)| {
                let at = (x + position.x_offset as f32 * scale, position.y_offset as f32 * scale);
                if position.x_advance > 0 {
                    x += position.x_advance as f32 * scale + style.thickening() * 0.6;
                }
                Glyph { id: GlyphId(info.glyph_id.min(u32::from(u16::MAX)) as u16), at, next: x }
            })
            .collect()
    }
}

struct Glyph {
    id: GlyphId,
    /// Right and up from the start of the line.
    at: (f32, f32),
    /// Where the next character starts.
    next: f32,
}

/// One line without control characters, which names of files may hold.
fn plain(text: &str) -> String {
    text.chars().map(|c| if c.is_control() { ' ' } else { c }).collect()
}

/// Where a line may end: after the last space, or in a word without one after its last joining sign.
fn last_break(text: &str) -> Option<usize> {
    // A number stays with its unit, and sides stay together, as long as the line has another space.
    let spaces = || text.rmatch_indices(' ').map(|(at, _)| at);
    let bound = |line: &str| line.ends_with(|c: char| c.is_ascii_digit()) || line.ends_with(" x");
    let apart = spaces().find(|&at| !bound(&text[..at]));
    let joined = || text.rfind(['-', '_', '.', '/']);
    apart.or_else(|| spaces().next()).or_else(joined).map(|at| at + 1)
}

struct Outline(PathBuilder);

impl OutlineBuilder for Outline {
    fn move_to(&mut self, x: f32, y: f32) {
        self.0.move_to(x, y);
    }

    fn line_to(&mut self, x: f32, y: f32) {
        self.0.line_to(x, y);
    }

    fn quad_to(&mut self, x1: f32, y1: f32, x: f32, y: f32) {
        self.0.quad_to(x1, y1, x, y);
    }

    fn curve_to(&mut self, x1: f32, y1: f32, x2: f32, y2: f32, x: f32, y: f32) {
        self.0.cubic_to(x1, y1, x2, y2, x, y);
    }

    fn close(&mut self) {
        self.0.close();
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const STYLE: Style = Style { size: 34.0, weight: Weight::Regular };

    #[test]
    fn lines_fit_and_nothing_is_lost() {
        let font = Font::bundled().unwrap();
        let text = "a half-transparent line runs across the tile, 5.3 in from the top of dulse_lattice_final_2.png";
        for width in [40.0, 120.0, 300.0, 5000.0] {
            let lines = font.wrap(text, STYLE, width, 1000);
            assert!(lines.iter().all(|line| font.width(line, STYLE) <= width), "{width}: {lines:?}");
            let joined: String = lines.concat().split_whitespace().collect();
            assert_eq!(joined, text.split_whitespace().collect::<String>());
        }
    }

    #[test]
    fn a_number_stays_with_its_unit() {
        let font = Font::bundled().unwrap();
        let text = "it is 3,600 x 3,600 px, 5.3 in from the top";
        let least = font.width("3,600 x 3,600 px,", STYLE) as u32 + 1;
        for width in (least..700).step_by(9) {
            for line in font.wrap(text, STYLE, width as f32, 9) {
                let last = line.rsplit(' ').next().unwrap();
                assert!(last != "x" && !last.ends_with(|c: char| c.is_ascii_digit()), "{width}: {line:?}");
            }
        }
    }

    #[test]
    fn a_word_wider_than_the_line_is_cut_and_the_last_line_says_so() {
        let font = Font::bundled().unwrap();
        let lines = font.wrap(&"m".repeat(500), STYLE, 200.0, 3);
        assert_eq!(lines.len(), 3);
        assert!(lines[2].ends_with('…'));
        assert!(lines.iter().all(|line| font.width(line, STYLE) <= 200.0));
    }

    #[test]
    fn any_name_can_be_drawn() {
        let font = Font::bundled().unwrap();
        let names = [
            "",
            " ",
            "\n\r\t",
            "見本🌊",
            "\u{202e}gnp.eslud",
            "e\u{301}\u{301}\u{301}",
            "שלום",
            "\u{0}\u{feff}",
            "Ωκεανός Приборой",
        ];
        for name in names {
            for style in [STYLE, Style::bold(44.0)] {
                let lines = font.wrap(name, style, 60.0, 4);
                assert!(lines.len() <= 4);
                for line in lines {
                    assert!(font.width(&line, style).is_finite());
                    let _ = font.path(&line, style, 10.0, 10.0);
                }
            }
        }
    }

    #[test]
    fn a_missing_character_shows_as_the_font_s_box() {
        let font = Font::bundled().unwrap();
        assert!(font.path("見", STYLE, 0.0, 0.0).is_some());
    }
}
