//! Pictures for people: the repeat picture, the strike-off, the held picture, and before and after of a mend.
//!
//! Pixels in, bytes out. Knows no files and judges nothing.

mod settings;
pub mod plane;
pub mod reduce;
pub mod repeat;
pub mod text;
pub mod canvas;
pub mod ruler;
pub mod strike_off;
pub mod held;
pub mod before_after;
pub mod family;

pub use settings::{DRAWING, LEAST_SIDE, MockupError, Settings};
