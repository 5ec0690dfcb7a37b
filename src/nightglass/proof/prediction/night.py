"""Light, limit, stars and glow of a frame: predicted from bench and night, and found.

The stars' prediction takes the night as it was (zero point, falloff, noise of the samples) and
the spot from the bench, drawn along the frame's own trails; the light's and the glow's take lens
and body as bench.toml describes them. So each tells of one thing: the blur, or the light.
"""

from __future__ import annotations

import numpy as np

from nightglass.proof.prediction.cells import NightCase, cells_of, colour_parts
from nightglass.proof.prediction.light_and_glow import glow, light
from nightglass.proof.prediction.stars import limit_and_stars
from nightglass.proof.records import FrameNight


def frame_night(case: NightCase) -> FrameNight:
    """Return light, limit, stars and glow of a frame; what can't be told has its reason."""
    cells = cells_of(case)
    parts = colour_parts(case)
    limit, stars, beyond = limit_and_stars(case, cells, parts)
    return FrameNight(
        light=light(case),
        limit=limit,
        stars=stars,
        glow=glow(case, cells, parts),
        tested_share=float(np.mean(cells.open & cells.tested)),
        beyond_share=beyond,
    )
