//! sRGB codes to linear light and back (IEC 61966-2-1), as tables for resampling.
