"""What was measured of a sensor, as lines for the terminal."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from nightglass.gear.sensorfile import Difference
from nightglass.sensor.codes import Role
from nightglass.sensor.records import DarkResult, IsoResult, Said, SensorReport, Taken
from nightglass.show.columns import Part, Table, lines_of
from nightglass.show.sensor.numbers import plain, with_error
from nightglass.show.sensor.sentences import opening
from nightglass.show.sensor.words import DARK_METHODS, NOT_MET, finding_words, left_out_words
from nightglass.show.sky.words.filter import filtering_advice
from nightglass.show.words import seconds
from nightglass.sky.photometry.filtering import Filtering
from nightglass.verdict.sky_noise import SkyNoise

SHOWN_FILES = 6
STANDARD = "EMVA 1288, Release 3.1 (2016)"


def report_lines(
    report: SensorReport,
    skies: Sequence[SkyNoise],
    filtered: Sequence[Filtering],
    width: int | None = None,
) -> Iterator[str]:
    """Yield the report as lines; width: of the terminal, None for a file."""
    yield from lines_of(report_parts(report, skies, filtered), width)


def report_parts(
    report: SensorReport, skies: Sequence[SkyNoise], filtered: Sequence[Filtering]
) -> Iterator[Part]:
    """Yield the answer, the table, what must be known of it, and what each frame was taken for."""
    yield from opening(report, skies)
    yield ""
    yield _table(report)
    yield ""
    yield from _darks(report)
    yield from _details(report)
    yield from _known_of_it(report)
    if filtered:
        yield f"Small stars: {filtering_advice(filtered)}"
    yield ""
    yield from taken_lines(report.taken)
    yield ""
    missing = "; ".join(NOT_MET[code] for code in report.not_met)
    yield f"Methods and names: {STANDARD}. Not met: {missing}."


def difference_lines(found: Sequence[Difference]) -> Iterator[str]:
    """Yield where bench.toml says something else than the frames."""
    for one in found:
        at = "" if one.iso is None else f" at ISO {one.iso}"
        err = "" if not one.measured_err else f" +- {one.measured_err:.2g}"
        yield (
            f"bench.toml says {one.key} = {one.typed:g}{at}, measured {one.measured:.4g}{err}: "
            "bench.toml counts; take it out there to use what was measured"
        )


def _table(report: SensorReport) -> Table:
    head = ("ISO", "read noise [e]", "electrons per count", "full scale [e]", "rows [e]")
    return Table(head, tuple(_row(one) for one in report.isos), head, indent="")


def _row(one: IsoResult) -> tuple[str, ...]:
    green = one.colour()
    full = green.full_scale_e.value
    noise = with_error(green.read_noise_e)
    if green.read_noise_e.value is None and green.read_noise_counts.value is not None:
        noise = f"{green.read_noise_counts.value:.2f} counts"
    return (
        str(one.iso),
        noise,
        with_error(green.gain_e_per_count),
        "not tested" if full is None else f"{full:,.0f}".replace(",", " "),
        "not tested" if one.pattern is None or one.pattern.unit != "e"
        else plain(one.pattern.row_noise),
    )  # fmt: skip


def _darks(report: SensorReport) -> Iterator[str]:
    for one in report.isos:
        for dark in one.darks:
            yield f"Dark at ISO {one.iso}, {seconds(dark.exposure_s)}: {_dark_words(dark)}"


def _dark_words(dark: DarkResult) -> str:
    current = with_error(dark.current_e_per_s, "electrons a second")
    how = "" if dark.method is None else f" ({DARK_METHODS[dark.method]})"
    return f"dark current {current}{how}, hot pixels {with_error(dark.hot_per_mpx)} per million"


def _details(report: SensorReport) -> Iterator[str]:
    """Colours, linearity and patterns where they say more than the table."""
    yield from _linearity(report)
    for one in report.isos:
        gains = [c for c in one.colours if c.gain_e_per_count.value is not None]
        if len(gains) > 1 and any(
            abs((c.gain_e_per_count.value or 0) - (gains[0].gain_e_per_count.value or 0))
            > 4 * (c.gain_e_per_count.err or 0) + 4 * (gains[0].gain_e_per_count.err or 0)
            for c in gains
        ):
            told = ", ".join(f"{c.colour} {with_error(c.gain_e_per_count)}" for c in gains)
            yield f"Electrons per count by colour at ISO {one.iso}: {told}"


def _linearity(report: SensorReport) -> Iterator[str]:
    """The step that lies farthest from a straight line stands for all."""
    lines = [(one.iso, one.linearity) for one in report.isos if one.linearity is not None]
    if not lines:
        return
    iso, worst = max(lines, key=lambda pair: pair[1].error_percent.value or 0.0)
    step = f"ISO {iso}" if len(lines) == 1 else f"the worst of {len(lines)} steps, ISO {iso}"
    yield (
        f"Linearity over time: {with_error(worst.error_percent, '%')} off a straight line at "
        f"{step} ({worst.steps} times, light steady to {worst.light_scatter_percent:.1f} %)"
    )


def _known_of_it(report: SensorReport) -> Iterator[str]:
    """Findings, each once, with the ISO steps that share it."""
    shared: dict[str, list[int]] = {}
    for one in report.isos:
        for said in one.findings:
            shared.setdefault(finding_words(said), []).append(one.iso)
    every = len(report.isos)
    for words, isos in shared.items():
        where = "all steps" if len(isos) == every and every > 1 else _iso_words(isos)
        yield f"{where}: {words}"
    yield from _together(report.findings)


def _together(found: Sequence[Said]) -> Iterator[str]:
    for words in dict.fromkeys(finding_words(said) for said in found):
        yield words[0].upper() + words[1:]


def _iso_words(isos: Sequence[int]) -> str:
    return "ISO " + ", ".join(str(iso) for iso in isos)


def taken_lines(taken: Sequence[Taken]) -> Iterator[str]:
    """Yield what the frames were taken for, by ISO, and which were left out and why."""
    used: dict[int, dict[str, int]] = {}
    for one in taken:
        if one.role is not Role.LEFT_OUT and one.iso is not None:
            kinds = used.setdefault(one.iso, {})
            kind = _kind(one)
            kinds[kind] = kinds.get(kind, 0) + 1
    for iso, kinds in sorted(used.items()):
        yield f"Taken for ISO {iso}: " + ", ".join(f"{n} {kind}" for kind, n in kinds.items())
    reasons: dict[str, list[str]] = {}
    for one in taken:
        if one.reason is not None:
            reasons.setdefault(left_out_words(one.reason, one.values), []).append(one.file)
    if reasons:
        yield "Left out:"
    for words, files in reasons.items():
        more = len(files) - SHOWN_FILES
        shown = ", ".join(files[:SHOWN_FILES]) + (f" and {more} more" if more > 0 else "")
        yield f"  {shown}: {words}"


def _kind(one: Taken) -> str:
    if one.role is Role.DARK and one.exposure_s is not None:
        return f"dark ({seconds(one.exposure_s)})"
    return {Role.FLAT: "evenly lit", Role.BIAS: "bias"}.get(one.role, one.role.value)
