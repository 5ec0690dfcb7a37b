"""Inks of the pictures of sky frames: told apart by lightness and stroke first, by hue second.

The house's ink (chart_style), here without its charting library: a picture of a frame needs none.
"""

from __future__ import annotations

INK, SOFT, LINE = "#141a2e", "#5b6272", "#c9ccd4"
FILL, CORE = "#dfe3ea", "#aeb6c4"
"""Of a star's outline and of its inner half."""
TRAIL = "#a34700"
