"""From the files of a folder to what is known of a sensor."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from pathlib import Path

from nightglass.frame.errors import FrameError, in_one_line
from nightglass.frame.many import in_order
from nightglass.gear.body import Body
from nightglass.sensor.codes import DarkMethod, Finding, LeftOut, NotMet, Role
from nightglass.sensor.dark_pairs import dark_pairs
from nightglass.sensor.flat_pairs import FlatPair, flat_pair, shows_a_scene
from nightglass.sensor.iso_step import StepFrames, iso_result, step_frames_isos
from nightglass.sensor.look import FrameLook, NoMosaicError, TooSmallError, look_at
from nightglass.sensor.records import IsoResult, Said, SensorReport, Taken
from nightglass.sensor.sort import Sorted, sort_frames
from nightglass.sensor.steps import Step, second_gain, step_findings

STANDARD_STEPS, STANDARD_DARK_TIMES, STANDARD_FRAMES = 50, 6, 16
"""EMVA 1288 Release 3.1, clauses 6.5, 7.1, 8.1: levels, dark times, frames for a pattern."""

Progress = Callable[[str, int, int], None]


def measure_sensor(
    files: Sequence[tuple[Path, str]],
    body: Body | None = None,
    temperature_c: float | None = None,
    on_progress: Progress | None = None,
) -> SensorReport:
    """Return what frames in the dark and of an even light tell of a sensor.

    files: path and name of each, as it is reported. body: the bench's; None takes the body that
    most frames have. on_progress: told what is done now, how many are done, of how many. A file
    that can't be used is in `taken` with its reason. Raises ValueError without a usable frame.
    """
    told = on_progress or (lambda what, done, total: None)
    looks, refused = _looks(files, told)
    found = sort_frames(looks, body)
    results, scenes = _steps(found, told)
    taken = tuple(_marked(one, scenes) for one in (*found.taken, *refused))
    order = {name: k for k, (_, name) in enumerate(files)}
    steps = [_step(found, one) for one in results]
    return SensorReport(
        body=found.body,
        serial=found.serial,
        isos=results,
        taken=tuple(sorted(taken, key=lambda one: order[one.file])),
        second_gain_iso=second_gain(steps),
        findings=(*found.findings, *step_findings(steps), *_overall(results, temperature_c)),
        not_met=_not_met(results),
        temperature_c=temperature_c,
    )


def _looks(
    files: Sequence[tuple[Path, str]], told: Progress
) -> tuple[list[FrameLook], list[Taken]]:
    looks: list[FrameLook] = []
    refused: list[Taken] = []
    for done, found in enumerate(in_order(_looked, files), start=1):
        told("looking at frames", done, len(files))
        if isinstance(found, FrameLook):
            looks.append(found)
        else:
            refused.append(found)
    return looks, refused


def _looked(file: tuple[Path, str]) -> FrameLook | Taken:
    path, name = file
    try:
        return look_at(path, name)
    except NoMosaicError:
        reason, words = LeftOut.NO_MOSAIC, ""
    except TooSmallError:
        reason, words = LeftOut.TOO_SMALL, ""
    except FrameError as error:
        reason, words = LeftOut.UNREADABLE, f"{error.cause}; {error.remedy}"
    except OSError as error:
        reason, words = LeftOut.UNREADABLE, in_one_line(error)
    return Taken(name, Role.LEFT_OUT, reason=reason, values={"error": words}, path=path)


def _steps(found: Sorted, told: Progress) -> tuple[tuple[IsoResult, ...], set[str]]:
    """Results by ISO, and names of frames that show a scene."""
    isos = step_frames_isos(list(found.bias), list(found.lit), [iso for iso, _ in found.darks])
    total = sum(len(found.flat_pairs.get(iso, ())) for iso in isos) + len(isos)
    results, scenes, done = [], set[str](), 0
    for iso in isos:
        looks = found.bias.get(iso, ())
        bias = dark_pairs(looks) if looks else None
        darks = [
            (seconds, dark_pairs(frames, want_hot=True))
            for (of, seconds), frames in found.darks.items()
            if of == iso
        ]
        lit = found.lit.get(iso, ())
        dark_looks = [one for (of, _), same in found.darks.items() if of == iso for one in same]
        any_look = (*looks, *lit, *dark_looks)[0]
        frames = StepFrames(iso, any_look, looks, bias, tuple(darks), (), lit)
        done += 1
        told("measuring pairs", done, total)
        pairs = []
        for pair in _measured(found, frames):
            done += 1
            told("measuring pairs", done, total)
            if shows_a_scene(pair, frames.dark_pattern):
                scenes |= {one.name for one in pair.looks}
            else:
                pairs.append(pair)
        results.append(iso_result(replace(frames, flats=tuple(pairs))))
    return tuple(results), scenes


def _measured(found: Sorted, frames: StepFrames) -> Iterator[FlatPair]:
    pairs = found.flat_pairs.get(frames.iso, ())
    yield from in_order(lambda pair: flat_pair(pair, frames.black, frames.value_step), pairs)


def _marked(one: Taken, scenes: set[str]) -> Taken:
    if one.file not in scenes:
        return one
    return replace(one, role=Role.LEFT_OUT, reason=LeftOut.NOT_EVEN, values={"stops": 0.0})


def _step(found: Sorted, one: IsoResult) -> Step:
    green = one.colour()
    looks = (*found.bias.get(one.iso, ()), *found.lit.get(one.iso, ()))
    step = next((look.green.step for look in looks if look.green.step is not None), None)
    return Step(one.iso, green.gain_e_per_count, green.read_noise_e, step)


def _overall(results: Sequence[IsoResult], temperature_c: float | None) -> list[Said]:
    """What concerns the whole sensor."""
    darks = [dark for one in results for dark in one.darks]
    said = []
    if not darks:
        said.append(Said(Finding.NO_DARKS))
    elif temperature_c is None:
        said.append(Said(Finding.TEMPERATURE_UNKNOWN))
    if any(dark.method is DarkMethod.NOISE for dark in darks):
        said.append(Said(Finding.DARK_LEVEL_HIDDEN))
    if results and not any(one.linearity for one in results):
        said.append(Said(Finding.LINEARITY_NOT_TESTED))
    if results and all(one.clipping_from == "file" for one in results):
        said.append(Said(Finding.CLIPPING_FROM_FILE))
    return said


def _not_met(results: Sequence[IsoResult]) -> tuple[NotMet, ...]:
    """What the standard asks for and these frames don't give."""
    missing = [NotMet.LIGHT_NOT_CALIBRATED, NotMet.LIGHT_NOT_ONE_COLOUR, NotMet.LENS_IN_FRONT]
    if all(one.flat_levels < STANDARD_STEPS for one in results):
        missing.append(NotMet.FEW_STEPS)
    if all(len(one.darks) < STANDARD_DARK_TIMES for one in results):
        missing.append(NotMet.FEW_DARK_TIMES)
    if all(one.bias_frames < STANDARD_FRAMES for one in results):
        missing.append(NotMet.FEW_FRAMES_FOR_PATTERN)
    return (*missing, NotMet.ONE_TEMPERATURE)
