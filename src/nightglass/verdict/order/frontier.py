"""Settings that no other beats in both light and tightness."""

from __future__ import annotations

from collections.abc import Sequence

from nightglass.verdict.records import Worth


def unbeaten(worths: Sequence[Worth]) -> tuple[Worth, ...]:
    """Return the settings that no other beats in both light and tightness, the lightest first.

    Light is the score, which holds light in both its parts; tightness is lens_tightness_percent,
    the one that the limit is about. A setting is beaten by one that is at least as good in both
    and better in one; two equal settings leave each other standing.
    """
    best = float("inf")
    kept: list[Worth] = []
    ordered = sorted(worths, key=_order)
    k = 0
    while k < len(ordered):
        score = ordered[k].score.value
        equal = [w for w in ordered[k:] if w.score.value == score]
        tightest = equal[0].lens_tightness_percent
        if tightest < best:
            kept += [w for w in equal if w.lens_tightness_percent == tightest]
            best = tightest
        k += len(equal)
    return tuple(kept)


def _order(worth: Worth) -> tuple[float, float, str, float, float]:
    s = worth.setting
    return (-worth.score.value, worth.lens_tightness_percent, s.lens, s.focal_mm, s.f_number)
