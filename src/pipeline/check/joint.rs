//! Joints: does each edge meet its copy, judged against the tile's own interior.
