"""The bench beside the sky: place by place, setting by setting, each spot with its equal.

Two comparisons stand side by side. The lens alone: the sky's spot with the stars' motion taken
out, against the bench's mean spot. And as measured: the bench's spot drawn in the place of the
frame's own stars and measured by the same code. Ratios are sky over bench, intervals 95 %, on
logarithms.
"""

from __future__ import annotations

from collections.abc import Sequence

from nightglass.bench.records import SettingResult
from nightglass.gear.body import Body
from nightglass.proof.comparison.causes import causes
from nightglass.proof.comparison.next_step import next_step
from nightglass.proof.comparison.order import order_of, shared_places, stars_tau, with_largest
from nightglass.proof.comparison.place import Scatters, compared_place, scatters
from nightglass.proof.records import Proof, SettingProof, SkyFrame
from nightglass.verdict.certainty.repeats import PooledRepeats, length_log_err, pool_repeats


def compare_bench_and_sky(
    results: Sequence[SettingResult], frames: Sequence[SkyFrame], body: Body
) -> Proof:
    """Return bench and sky side by side for every setting that has both.

    No frame is dropped: what can't be compared stays in the list with its reason.
    """
    pool = pool_repeats(results)
    both = [
        (result, own)
        for result in sorted(results, key=lambda r: r.setting)
        if (own := [frame for frame in frames if frame.setting == result.setting])
    ]
    scatter = scatters(both, body)
    alone = [_setting(result, own, pool, scatter, body) for result, own in both]
    shared = shared_places(alone)
    proofs = [with_largest(one, shared) for one in alone]
    order = order_of(proofs, shared)
    by_stars, stars_settings = stars_tau(proofs)
    return Proof(
        settings=tuple(proofs),
        frames=tuple(frames),
        not_on_sky=tuple(sorted({r.setting for r in results} - {p.setting for p in proofs})),
        tau=order.tau,
        pairs_held=len(order.held),
        pairs_against=order.against,
        pairs_open=order.open,
        stars_tau=by_stars,
        stars_settings=stars_settings,
        verdict=order.verdict,
        next_step=next_step(proofs, order.verdict),
        picture_height_px=float(body.picture_height_px),
        shared_places=shared,
    )


def _setting(
    result: SettingResult,
    frames: Sequence[SkyFrame],
    pool: PooledRepeats,
    scatter: Scatters,
    body: Body,
) -> SettingProof:
    usable = [frame for frame in frames if frame.reason is None]
    places = tuple(
        compared_place(zone, usable, length_log_err(zone, result.setting.lens, pool), scatter, body)
        for zone in result.zones
    )
    return SettingProof(
        setting=result.setting,
        files=tuple(frame.file for frame in frames),
        places=places,
        bench_worst=None,
        sky_worst=None,
        causes=causes([place for place in places if place.compared], usable),
        nights=tuple((f.file, f.night) for f in usable if f.night is not None),
    )
