"""A look at two settings of a bench folder, from what is on record."""

from __future__ import annotations

import math
import re

from nightglass.gear.asked_setting import asked_settings
from nightglass.gear.benchfile import BenchFile
from nightglass.patch.look import BlindPair, Looked, Wish, blind_pairs, look_at
from nightglass.patch.made import MadeAs, SameMinutes
from nightglass.patch.recorded import FramePlace
from nightglass.plan.targets import target
from nightglass.verdict.on_record import judged_on_record, measured_elsewhere
from nightglass.verdict.view.eye import Eye

CENTRE = FramePlace("centre", 0.0, 0.0)


def patch_wish(
    bench: BenchFile,
    place: str,
    toward: str,
    frames: str | None = None,
    minutes: float | None = None,
    made_as: str | None = None,
) -> Wish:
    """Return what to draw, from a person's words.

    frames: counts, one each without. minutes: the same for both, and made_as what each makes of
    them, stacks without. Raises ValueError for a place that bench.toml does not name, a direction
    that no sky has, frames that are not two counts, minutes that are no time, words that are no
    way to make a picture, and for counts and minutes together.
    """
    aim = target(toward)
    at = frame_place(bench, place)
    if minutes is None:
        if made_as is not None:
            raise ValueError(f'--as "{made_as}" needs the minutes that both get; add --minutes 10')
        return Wish(aim.ra_degrees, aim.dec_degrees, at, frames=_counts(frames or "1,1"))
    if frames is not None:
        raise ValueError(
            f'--frames "{frames}" and --minutes {minutes:g} both say how many frames; leave one out'
        )
    same = SameMinutes(minutes, _ways(made_as or MadeAs.STACK))
    return Wish(aim.ra_degrees, aim.dec_degrees, at, same=same)


def _counts(frames: str) -> tuple[int, int]:
    counts = re.fullmatch(r"\s*(\d{1,4})\s*(?:,\s*(\d{1,4})\s*)?", frames)
    pair = (0, 0) if counts is None else (int(counts[1]), int(counts[2] or counts[1]))
    if min(pair) < 1:
        raise ValueError(f'--frames "{frames}" are not two counts of 1 or more; write 1,4 or 4')
    return pair


def _ways(made_as: str) -> tuple[MadeAs, MadeAs]:
    words = [word.strip().casefold() for word in made_as.split(",")]
    known = [way.value for way in MadeAs]
    if len(words) > 2 or any(word not in known for word in words):
        raise ValueError(
            f'--as "{made_as}" is not one word for each setting; the words are '
            f"{', '.join(known)}: write stack,panorama"
        )
    return MadeAs(words[0]), MadeAs(words[-1])


def frame_place(bench: BenchFile, name: str) -> FramePlace:
    """Return a place of the frame by its name in bench.toml; "centre" is always known.

    Raises ValueError for another name, with those that are known.
    """
    wanted = name.casefold().strip()
    if wanted == "centre":
        return CENTRE
    body = bench.body
    for place in bench.places:
        if place.name.casefold() == wanted:
            x = (place.x_percent - 50) / 100 * body.width_mm
            y = (place.y_percent - 50) / 100 * body.height_mm
            corner = math.hypot(body.width_mm, body.height_mm) / 2
            return FramePlace(place.name, math.hypot(x, y) / corner, math.degrees(math.atan2(y, x)))
    known = ", ".join(dict.fromkeys(["centre", *(p.name for p in bench.places)]))
    raise ValueError(f'--place "{name}" is not in bench.toml; choose one of: {known}')


def looked_on_record(
    bench: BenchFile, one: str, other: str, wish: Wish
) -> tuple[Looked, Eye, tuple[BlindPair, ...]]:
    """Return the look at two settings, named as a person does, and the pairs of the blind sheet.

    Raises StoreError, and ValueError for settings that are not on record.
    """
    found = judged_on_record(bench)[0]
    judged = [item.worth.setting for item in found.scored]
    elsewhere = measured_elsewhere(bench)
    chosen = [
        min(asked_settings(text, bench.lenses, judged, elsewhere), key=judged.index)
        for text in (one, other)
    ]
    looked = look_at(found, bench, chosen[0], chosen[1], wish)
    eye, pairs = blind_pairs(found, bench, looked)
    return looked, eye, pairs
