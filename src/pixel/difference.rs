//! Color difference in CIEDE2000 between sRGB pixels.
