//! Running text in a column: wrapped once, measured, then drawn.
//!
//! Takes sentences and styles, draws on a canvas. Knows no findings.

use crate::pipeline::mockup::canvas::{Canvas, Ink};
use crate::pipeline::mockup::text::{Font, Style};

/// How far text beside a badge is set in, in pixels.
const INDENT: f32 = 68.0;

/// Lines of text in a column.
pub struct Prose {
    font: Font,
    width: f32,
    indent: f32,
    height: f32,
    parts: Vec<Part>,
}

enum Part {
    Line { text: String, style: Style, ink: Ink, x: f32, baseline: f32 },
    Badge { number: usize, y: f32 },
}

impl Prose {
    /// An empty column of so many pixels.
    #[must_use]
    pub fn new(font: Font, width: f32) -> Self {
        Self { font, width, indent: 0.0, height: 0.0, parts: Vec::new() }
    }

    /// Adds text in at most `most` lines.
    pub fn add(&mut self, text: &str, style: Style, ink: Ink, most: usize) {
        for text in self.font.wrap(text, style, self.width - self.indent, most) {
            let baseline = self.height + style.size * 1.02;
            self.parts.push(Part::Line { text, style, ink, x: self.indent, baseline });
            self.height += style.size * 1.32;
        }
    }

    /// Adds white.
    pub fn space(&mut self, pixels: f32) {
        self.height += pixels;
    }

    /// Starts a numbered paragraph whose first line has an em of `size`: what follows is set in beside its badge.
    pub fn badge(&mut self, number: usize, size: f32) {
        self.parts.push(Part::Badge { number, y: self.height + size * 0.66 });
        self.indent = INDENT;
    }

    /// Ends a numbered paragraph.
    pub fn flush_left(&mut self) {
        self.indent = 0.0;
    }

    /// How high the column is, in pixels.
    #[must_use]
    pub fn height(&self) -> f32 {
        self.height
    }

    /// Draws the column with its corner at `x`, `y`.
    pub fn draw(&self, canvas: &mut Canvas, x: f32, y: f32) {
        for part in &self.parts {
            match part {
                Part::Line { text, style, ink, x: indent, baseline } => {
                    canvas.text(text, *style, x + indent, y + baseline, *ink);
                }
                Part::Badge { number, y: middle } => canvas.badge(*number, x + 24.0, y + middle, 22.0),
            }
        }
    }
}

/// A finding's words as a sentence: a capital at the start, a full stop at the end.
#[must_use]
pub fn sentence(words: &str) -> String {
    let words = words.trim();
    let mut letters = words.chars();
    let Some(first) = letters.next() else { return String::new() };
    let stop = if words.ends_with(['.', '!', '?', '…']) { "" } else { "." };
    format!("{}{}{stop}", first.to_uppercase(), letters.as_str())
}
