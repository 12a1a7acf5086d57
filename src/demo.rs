//! The demo: draws the tiles of Oddfathom, a studio of our own invention, and runs the real daemon over them.
