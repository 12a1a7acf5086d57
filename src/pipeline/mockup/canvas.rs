//! The sheet pictures are drawn on: white paper, text, rules, frames and pixels set down exactly.
//!
//! Takes coordinates in pixels from the top left, yields an opaque raster. Knows no tiles and no findings.

use crate::pipeline::mockup::settings::MockupError;
use crate::pipeline::mockup::text::{Font, Style, Weight};
use crate::tile::Raster;
use tiny_skia::{Color, FillRule, Paint, PathBuilder, Pixmap, Rect, Stroke, Transform};

/// A gray or color of the drawing, as sRGB codes.
pub type Ink = [u8; 3];

/// Text and rules.
pub const BLACK: Ink = [17, 17, 17];
/// Secondary text.
pub const GRAY: Ink = [89, 89, 89];
/// Thin rules.
pub const LIGHT: Ink = [190, 190, 190];
/// Paper.
pub const WHITE: Ink = [255, 255, 255];

/// How wide each of the two lines of a mark's frame is, in pixels.
pub const LINE: i64 = 4;

/// A rectangle of whole pixels: left, top, right, bottom; the last two are outside.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Box4 {
    /// First column.
    pub left: i64,
    /// First row.
    pub top: i64,
    /// The column after the last.
    pub right: i64,
    /// The row after the last.
    pub bottom: i64,
}

impl Box4 {
    /// A rectangle from its corner and sides.
    #[must_use]
    pub fn new(left: i64, top: i64, width: i64, height: i64) -> Self {
        Self { left, top, right: left + width, bottom: top + height }
    }

    /// The rectangle grown by `by` pixels on each side.
    #[must_use]
    pub fn grown(self, by: i64) -> Self {
        Self { left: self.left - by, top: self.top - by, right: self.right + by, bottom: self.bottom + by }
    }

    /// What both cover; `None` when that is nothing.
    #[must_use]
    pub fn within(self, other: Self) -> Option<Self> {
        let both = Self {
            left: self.left.max(other.left),
            top: self.top.max(other.top),
            right: self.right.min(other.right),
            bottom: self.bottom.min(other.bottom),
        };
        (both.left < both.right && both.top < both.bottom).then_some(both)
    }

    /// Columns.
    #[must_use]
    pub fn width(self) -> i64 {
        self.right - self.left
    }

    /// Rows.
    #[must_use]
    pub fn height(self) -> i64 {
        self.bottom - self.top
    }
}

/// White paper to draw on.
pub struct Canvas {
    pixmap: Pixmap,
    font: Font,
}

impl Canvas {
    /// White paper of so many pixels.
    ///
    /// # Errors
    /// [`MockupError::NoCanvas`] when a side is 0 or the paper is too large; [`MockupError::Font`].
    pub fn new(width: u32, height: u32) -> Result<Self, MockupError> {
        let font = Font::bundled()?;
        let mut pixmap = Pixmap::new(width, height).ok_or(MockupError::NoCanvas(width, height))?;
        pixmap.fill(Color::WHITE);
        Ok(Self { pixmap, font })
    }

    /// The whole paper.
    #[must_use]
    pub fn area(&self) -> Box4 {
        Box4::new(0, 0, i64::from(self.pixmap.width()), i64::from(self.pixmap.height()))
    }

    /// Draws a line of text from `x` on, its baseline at `y`.
    pub fn text(&mut self, line: &str, style: Style, x: f32, y: f32, ink: Ink) {
        let Some(path) = self.font.path(line, style, x, y) else { return };
        let paint = paint(ink);
        self.pixmap.fill_path(&path, &paint, FillRule::Winding, Transform::identity(), None);
        if style.weight == Weight::Bold {
            let stroke = Stroke { width: style.thickening(), ..Stroke::default() };
            self.pixmap.stroke_path(&path, &paint, &stroke, Transform::identity(), None);
        }
    }

    /// Draws a line of text centered on `x`.
    pub fn text_centered(&mut self, line: &str, style: Style, x: f32, y: f32, ink: Ink) {
        self.text(line, style, x - self.font.width(line, style) / 2.0, y, ink);
    }

    /// Fills a rectangle with antialiased rims, sides in pixels.
    pub fn rule(&mut self, x: f32, y: f32, width: f32, height: f32, ink: Ink) {
        if let Some(rect) = Rect::from_xywh(x, y, width, height) {
            let path = PathBuilder::from_rect(rect);
            self.pixmap.fill_path(&path, &paint(ink), FillRule::Winding, Transform::identity(), None);
        }
    }

    /// Fills a triangle between three points.
    pub fn triangle(&mut self, ends: [(f32, f32); 3], ink: Ink) {
        let mut path = PathBuilder::new();
        path.move_to(ends[0].0, ends[0].1);
        path.line_to(ends[1].0, ends[1].1);
        path.line_to(ends[2].0, ends[2].1);
        path.close();
        if let Some(path) = path.finish() {
            self.pixmap.fill_path(&path, &paint(ink), FillRule::Winding, Transform::identity(), None);
        }
    }

    /// Fills whole pixels; what lies outside the paper is left out.
    pub fn fill(&mut self, area: Box4, ink: Ink) {
        let stride = self.pixmap.width() as usize * 4;
        let Some(area) = area.within(self.area()) else { return };
        let rows = self.pixmap.data_mut().chunks_exact_mut(stride);
        for row in rows.skip(area.top as usize).take(area.height() as usize) {
            for pixel in row[area.left as usize * 4..area.right as usize * 4].chunks_exact_mut(4) {
                pixel.copy_from_slice(&[ink[0], ink[1], ink[2], 255]);
            }
        }
    }

    /// Sets opaque pixels down with their corner at `left`, `top`, only inside `clip`.
    pub fn set_down(&mut self, picture: &Raster, left: i64, top: i64, clip: Box4) {
        let stride = self.pixmap.width() as usize * 4;
        let covered = Box4::new(left, top, i64::from(picture.width()), i64::from(picture.height()));
        let Some(area) = covered.within(clip).and_then(|area| area.within(self.area())) else { return };
        let rows = self.pixmap.data_mut().chunks_exact_mut(stride);
        for (y, row) in (area.top - top..).zip(rows.skip(area.top as usize).take(area.height() as usize)) {
            let source = &picture.row(y as u32)[(area.left - left) as usize * 4..];
            let out = &mut row[area.left as usize * 4..area.right as usize * 4];
            out.copy_from_slice(&source[..out.len()]);
        }
    }

    /// Frames areas of a picture that is set down at `left`, `top`: a black line outside a white one around their union,
    /// inside `clip`. The framed pixels themselves stay untouched.
    pub fn frame(&mut self, areas: &[Box4], picture: &Raster, left: i64, top: i64, clip: Box4) {
        for (by, ink) in [(2 * LINE, [0; 3]), (LINE, WHITE)] {
            for area in areas {
                if let Some(area) = area.grown(by).within(clip) {
                    self.fill(area, ink);
                }
            }
        }
        for area in areas {
            if let Some(area) = area.within(clip) {
                self.set_down(picture, left, top, area);
            }
        }
    }

    /// A numbered badge: a black disc with a white ring and number, its center at `x`, `y`.
    pub fn badge(&mut self, number: usize, x: f32, y: f32, radius: f32) {
        for (radius, ink) in [(radius + 3.0, [0; 3]), (radius, WHITE), (radius - 3.0, [0; 3])] {
            if let Some(disc) = PathBuilder::from_circle(x, y, radius) {
                self.pixmap.fill_path(&disc, &paint(ink), FillRule::Winding, Transform::identity(), None);
            }
        }
        let style = Style::bold(radius * if number < 10 { 1.25 } else { 1.0 });
        self.text_centered(&number.to_string(), style, x, y + style.size * 0.36, WHITE);
    }

    /// The finished picture.
    ///
    /// # Errors
    /// [`MockupError::NoCanvas`], which no canvas provokes.
    pub fn finish(self) -> Result<Raster, MockupError> {
        let (width, height) = (self.pixmap.width(), self.pixmap.height());
        Raster::new(width, height, self.pixmap.take()).ok_or(MockupError::NoCanvas(width, height))
    }
}

fn paint(ink: Ink) -> Paint<'static> {
    let mut paint = Paint::default();
    paint.set_color_rgba8(ink[0], ink[1], ink[2], 255);
    paint.anti_alias = true;
    paint
}
