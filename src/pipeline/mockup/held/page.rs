//! The measures of the held picture that its parts share, in pixels.

/// The picture's width.
pub const WIDTH: i64 = 1600;

/// White on all sides.
pub const MARGIN: i64 = 56;

/// The width of each of its two columns.
pub const COLUMN: i64 = 728;

/// Where the right column starts.
pub const RIGHT: i64 = WIDTH - MARGIN - COLUMN;

/// Pixels per inch at which the picture is true: it is then 8 in wide, a sheet of paper or a large tablet.
pub const PER_INCH: f64 = 200.0;

/// The radius of a badge.
pub const BADGE: f32 = 24.0;

/// The em of captions, legible at arm's length.
pub const SMALL: f32 = 29.0;

/// The em of running text.
pub const BODY: f32 = 33.0;
