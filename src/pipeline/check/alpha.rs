//! Transparency: the ground first, then hairline, fringe, gap, speck and soft art kept apart.
