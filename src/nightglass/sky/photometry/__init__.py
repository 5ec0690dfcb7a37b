"""The light of a frame: gain, zero point, open sky, limiting magnitude, dark frames."""
