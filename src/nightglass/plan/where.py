"""Place and horizon from what was typed on the command line or kept in bench.toml."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from nightglass.almanac.horizon import Horizon, horizon
from nightglass.almanac.place import Place, place
from nightglass.gear.benchfile import Site
from nightglass.plan.wishes import PlaceWish


@dataclass(frozen=True)
class Where:
    """Where the tripod stands, and the land around it."""

    place: Place
    horizon: Horizon


def wished_place(wish: PlaceWish, folder: Path) -> Where:
    """Return place and horizon of a wish, with the site of a bench folder behind it.

    Raises BenchFileError for a folder that can't be read, ValueError as `where` does.
    """
    return where(wish.at, wish.zone, wish.height_m, wish.horizon, site_of(folder))


def site_of(folder: Path) -> Site:
    """Return the site that a bench folder keeps; an empty one where no folder was named."""
    if not has_bench(folder):
        return Site()
    # Checking a bench takes a library that nights without one should not wait for.
    from nightglass.gear.bag import read_bench_file

    return read_bench_file(folder).site


def has_bench(folder: Path) -> bool:
    """Return whether a bench is to be read: a folder that was named, or one that holds a bench.

    A folder that was named and holds none is for the reader of benches to refuse.
    """
    return folder != Path() or (folder / "bench.toml").is_file()


def where(
    at: str | None,
    zone_name: str | None = None,
    height_m: float | None = None,
    horizon_text: str | None = None,
    site: Site | None = None,
) -> Where:
    """Return place and horizon; what is typed wins over the site of bench.toml.

    at: coordinates, or the name that the site has there.

    horizon_text: a height, a table, or the name of a file that holds one. Raises ValueError when
    no place is known and for whatever place and horizon refuse.
    """
    kept = site or Site()
    by_name = at is not None and kept.name != "" and at.casefold() == kept.name.casefold()
    text = at if at is not None and not by_name else kept.place
    if text is None:
        raise ValueError(
            'no place given; say where, like --at "52.1 N 4.4 E", or keep it in bench.toml under '
            "[site]"
        )
    # Zone and hills of the kept site belong to the kept place only.
    of_site = kept if at is None or by_name or at == kept.place else Site()
    there = place(
        text,
        zone_name if zone_name is not None else of_site.zone,
        name=of_site.name,
        elevation_m=height_m if height_m is not None else (of_site.height_m or 0.0),
    )
    if horizon_text is not None:
        return Where(there, horizon(_file_or_text(horizon_text)))
    hills = of_site.horizon_degrees
    if hills is None:
        return Where(there, Horizon())
    if isinstance(hills, tuple):
        return Where(there, horizon(", ".join(f"{a:g}:{h:g}" for a, h in hills)))
    return Where(there, horizon(f"{hills:g}"))


def _file_or_text(text: str) -> str:
    if len(text) < 200 and "\n" not in text:
        if Path(text).is_file():
            return Path(text).read_text(encoding="utf-8")
        if text.strip() and not any(sign.isdigit() for sign in text):
            raise ValueError(
                f'horizon: there is no file "{text}"; give a height like "10", a table "0:5, '
                '60:12, ..." or the name of a file that holds one'
            )
    return text
