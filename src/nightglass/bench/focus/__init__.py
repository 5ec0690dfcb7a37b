"""Focus series: where a setting is sharpest, at each place, and how far focus may be off."""
