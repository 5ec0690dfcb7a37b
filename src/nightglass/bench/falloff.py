"""Falloffs measured on frames of a bench's settings: kept in its store, found by setting."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

from nightglass.bench.kept import Keeper, as_record
from nightglass.bench.store.store import Store, open_store
from nightglass.gear.benchfile import BenchFile
from nightglass.gear.lens import LensSetting
from nightglass.light.falloff import PupilFalloff, combined_falloff

SUBJECT = "falloff"
FLATS = "flats"
FLATS_LIGHT = "flats light"


def keep_falloff(
    keeper: Keeper, setting: LensSetting, content_hash: str, falloff: PupilFalloff
) -> None:
    """Keep what one frame tells of a setting's falloff, in place of what it told before.

    content_hash: of the frame.
    """
    keeper.keep(content_hash, (setting, falloff), SUBJECT)


def keep_flats(keeper: Keeper, falloffs: Sequence[tuple[LensSetting, PupilFalloff]]) -> None:
    """Keep what the flats of a bench tell, in place of all that flats told before.

    A flat that was taken out of the folder tells nothing any more.
    """
    keeper.keep(FLATS, tuple(falloffs), FLATS)


def keep_flats_light(keeper: Keeper, light: Mapping[str, tuple[float, float]]) -> None:
    """Keep how much light lenses pass against one of them, in place of what was kept before.

    light: by the lens's name, times and 1-sigma error; the reference stands with 1 and 0.
    """
    keeper.keep(FLATS_LIGHT, tuple((lens, *told) for lens, told in light.items()), FLATS_LIGHT)


def flats_light_of(store: Store) -> dict[str, tuple[float, float]]:
    """Return what keep_flats_light kept; empty without any. Raises StoreError."""
    kept = as_record(store.find(FLATS_LIGHT, FLATS_LIGHT), tuple) or ()
    return {
        one[0]: (one[1], one[2])
        for one in kept
        if isinstance(one, tuple) and [type(part) for part in one] == [str, float, float]
    }


def falloffs_of(store: Store) -> dict[LensSetting, PupilFalloff]:
    """Return the falloff of each setting of which frames told one: flats before the sky.

    Raises StoreError.
    """
    told: dict[LensSetting, list[PupilFalloff]] = {}
    for setting, falloff in _pairs(as_record(one, tuple) for one in store.contents(SUBJECT)):
        told.setdefault(setting, []).append(falloff)
    sky = {setting: combined_falloff(several) for setting, several in told.items()}
    flats = _pairs(as_record(store.find(FLATS, FLATS), tuple) or ())
    return {**sky, **dict(flats)}


def falloff_on_record(bench: BenchFile, setting: LensSetting) -> PupilFalloff | None:
    """Return the falloff of one setting of a bench; None without. Raises StoreError."""
    store = open_store(bench)
    try:
        return falloffs_of(store).get(setting)
    finally:
        store.close()


def _pairs(kept: Iterable[object]) -> list[tuple[LensSetting, PupilFalloff]]:
    """Setting and falloff of what was kept as such; anything else is passed over."""
    pairs = [one for one in kept if isinstance(one, tuple) and len(one) == 2]
    return [(s, f) for s, f in pairs if isinstance(s, LensSetting) and isinstance(f, PupilFalloff)]
