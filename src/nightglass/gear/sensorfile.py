"""sensor.json beside bench.toml: what was measured of the body's sensor, for all commands.

What a person typed in bench.toml counts before it, step by step, and `differences` says where the
two are not alike.
"""

from __future__ import annotations

import json
import os
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path
from typing import Annotated

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from nightglass.gear.body import Body, same_body

SENSOR_FILE_NAME = "sensor.json"
FORMAT = 1
"""Number of the layout; a later program may write another."""

Positive = Annotated[float, Field(gt=0, lt=1e7)]


class _Plain(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True, allow_inf_nan=False)


class MeasuredStep(_Plain):
    """One ISO step, in green or the only colour; None where it could not be measured."""

    gain_e_per_count: Positive | None = None
    gain_err_e_per_count: Positive | None = None
    read_noise_e: Positive | None = None
    read_noise_err_e: Positive | None = None
    full_scale_e: Positive | None = None
    dark_e_per_s: float | None = None
    dark_err_e_per_s: float | None = None
    dark_exposure_s: float | None = None


class MeasuredSensor(_Plain):
    """What sensor.json holds."""

    format: int = FORMAT
    body: str
    """Name in bench.toml when it was measured."""
    recorded_body: str | None = None
    """Name in the frames."""
    serial: str | None = None
    measured_on: date
    temperature_c: float | None = None
    second_gain_iso: int | None = None
    steps: Mapping[int, MeasuredStep] = Field(default_factory=dict)
    other_bodies: tuple[MeasuredSensor, ...] = ()
    """The sensors of the bench's further bodies that were measured."""

    @property
    def each(self) -> tuple[MeasuredSensor, ...]:
        """Every sensor of the file."""
        return (self, *self.other_bodies)


class SensorFileError(ValueError):
    """sensor.json can't be used; one line that says what to do."""


@dataclass(frozen=True)
class Difference:
    """A value that bench.toml and the frames state differently; bench.toml's counts."""

    key: str
    """Its key in bench.toml."""
    iso: int | None
    typed: float
    measured: float
    measured_err: float | None


def read_sensor_file(folder: Path) -> MeasuredSensor | None:
    """Return what was measured of the body of a bench folder, None where nothing was.

    Raises SensorFileError for a file that can't be read or says what can't be.
    """
    file = folder / SENSOR_FILE_NAME
    try:
        text = file.read_text(encoding="utf-8")
    except FileNotFoundError:
        return None
    except (OSError, UnicodeDecodeError) as error:
        raise SensorFileError(f"{file}: can't be read ({error}); {_REMEDY}") from None
    try:
        found = MeasuredSensor.model_validate(json.loads(text))
    except (json.JSONDecodeError, ValidationError) as error:
        cause = str(error).splitlines()[0]
        raise SensorFileError(f"{file}: not as it was written ({cause}); {_REMEDY}") from None
    if found.format != FORMAT:
        raise SensorFileError(
            f"{file}: written by another version (format {found.format}, here {FORMAT}); {_REMEDY}"
        )
    return found


_REMEDY = "delete it, and run nightglass sensor again"


def write_sensor_file(folder: Path, found: MeasuredSensor) -> Path:
    """Write sensor.json in one step: a stop or a full disk leaves the old one. Return its path.

    Raises OSError where the folder can't be written.
    """
    file = folder / SENSOR_FILE_NAME
    unfinished = folder / f".{SENSOR_FILE_NAME}.unfinished"
    unused = None if found.other_bodies else {"other_bodies"}
    plain = found.model_dump(mode="json", exclude=unused)
    text = json.dumps(plain, indent=1, ensure_ascii=False)
    try:
        with unfinished.open("w", encoding="utf-8") as stream:
            stream.write(text + "\n")
            stream.flush()
            os.fsync(stream.fileno())
        os.replace(unfinished, file)
    finally:
        unfinished.unlink(missing_ok=True)
    return file


def merged(old: MeasuredSensor | None, new: MeasuredSensor) -> MeasuredSensor:
    """Return what is known after some steps were measured anew: the others stay as they were.

    old: all that sensor.json held. A sensor of another body, or of another serial number, gives
    nothing.
    """
    same = [one for one in (old.each if old else ()) if one.body == new.body]
    if not same or same[0].serial not in (None, new.serial):
        return new
    old = same[0]
    return new.model_copy(
        update={
            "steps": dict(sorted({**old.steps, **new.steps}.items())),
            "second_gain_iso": new.second_gain_iso or old.second_gain_iso,
        }
    )


def beside_others(
    new: MeasuredSensor, old: MeasuredSensor | None, bodies: Sequence[Body]
) -> MeasuredSensor:
    """Return what sensor.json is to hold: a sensor, and what it held of the bench's other bodies.

    bodies: those of the bench.
    """
    kept = () if old is None else (one.model_copy(update={"other_bodies": ()}) for one in old.each)
    owner = _owner(new, bodies)
    others = [one for one in kept if _owner(one, bodies) not in (None, owner)]
    return new.model_copy(update={"other_bodies": tuple(others)})


def with_measured(bodies: Sequence[Body], found: MeasuredSensor | None) -> tuple[Body, ...]:
    """Return the bodies of a bench with what was measured where nothing was typed.

    Raises SensorFileError where a sensor is that of another body.
    """
    measured: dict[str, MeasuredSensor] = {}
    for one in () if found is None else found.each:
        owner = _owner(one, bodies)
        if owner is None:
            known = " and ".join(f'"{body.name}"' for body in bodies)
            raise SensorFileError(
                f'{SENSOR_FILE_NAME} was measured on the body "{one.body}", but bench.toml has '
                f"{known}; delete {SENSOR_FILE_NAME}, or run nightglass sensor with frames of "
                f"{'this body' if len(bodies) == 1 else 'one of these bodies'}"
            )
        measured[owner.name] = one
    return tuple(
        _filled(body, measured[body.name]) if body.name in measured else body for body in bodies
    )


def _owner(found: MeasuredSensor, bodies: Sequence[Body]) -> Body | None:
    """The body that a sensor is of: by its name in bench.toml, else by the one in the frames."""
    named = [body for body in bodies if body.name == found.body]
    recorded = found.recorded_body
    named = named or [body for body in bodies if recorded and same_body(recorded, body)]
    if len(named) > 1:
        named = [body for body in named if found.serial and body.serial == found.serial]
    return named[0] if len(named) == 1 else None


def _filled(body: Body, found: MeasuredSensor) -> Body:
    noise, noise_err, gain, gain_err = {}, {}, {}, {}
    for iso, step in sorted(found.steps.items()):
        if step.read_noise_e is not None and iso not in body.read_noise_e:
            noise[iso], noise_err[iso] = step.read_noise_e, step.read_noise_err_e or 0.0
        if step.gain_e_per_count is not None and iso not in body.gain_e_per_count:
            gain[iso], gain_err[iso] = step.gain_e_per_count, step.gain_err_e_per_count or 0.0
    return replace(
        body,
        read_noise_e={**body.read_noise_e, **noise},
        read_noise_err_e=noise_err,
        gain_e_per_count={**body.gain_e_per_count, **gain},
        gain_err_e_per_count=gain_err,
        second_gain_iso=body.second_gain_iso or found.second_gain_iso,
    )


def differences(typed: Body, found: MeasuredSensor) -> Iterator[Difference]:
    """Yield where a body as typed and its frames differ by more than 2 errors and 2 %."""
    for iso, step in sorted(found.steps.items()):
        for key, table, value, err in (
            ("read_noise_e", typed.read_noise_e, step.read_noise_e, step.read_noise_err_e),
            (
                "gain_e_per_count", typed.gain_e_per_count, step.gain_e_per_count,
                step.gain_err_e_per_count,
            ),
        ):  # fmt: skip
            if iso in table and value is not None:
                away = abs(table[iso] - value)
                if away > 2 * (err or 0.0) and away > 0.02 * value:
                    yield Difference(key, iso, table[iso], value, err)
    second, own = found.second_gain_iso, typed.second_gain_iso
    if second is not None and own is not None and own != second:
        yield Difference("second_gain_iso", None, own, second, None)
