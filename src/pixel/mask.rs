//! Sets of pixels as runs per row.
