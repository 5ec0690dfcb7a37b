"""A bench to start from: body and lens as one frame records them."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from nightglass.bench.errors import BenchError
from nightglass.frame.open import open_frame
from nightglass.frame.record import Frame
from nightglass.gear.body import Body, Mosaic
from nightglass.gear.lens import Lens
from nightglass.gear.names import fit_name


@dataclass(frozen=True)
class RecordedGear:
    """What one frame tells of body and lens; None: not recorded."""

    width_px: int
    height_px: int
    mosaic: Mosaic
    body: str | None
    lens: str | None
    focal_mm: float | None
    f_number: float | None
    recorded_body: str | None = None
    """As the camera spells it: what frames are known by, whatever the person calls it."""
    recorded_lens: str | None = None


def recorded_gear(file: Path) -> RecordedGear:
    """Return what a frame tells of body and lens. Raises FrameError if it can't be read."""
    frame = open_frame(file)
    said = frame.metadata
    return RecordedGear(
        frame.width_px,
        frame.height_px,
        _mosaic(frame),
        fit_name(said.body, "") or None if said.body else None,
        fit_name(said.lens, "") or None if said.lens else None,
        said.focal_mm,
        said.f_number,
        said.body or None,
        said.lens or None,
    )


def gear_from_frame(file: Path, pitch_um: float | None) -> tuple[Body, tuple[Lens, ...]]:
    """Return body and lens of a frame, for a bench.toml to start from.

    Files do not tell the pixel pitch, so it has to be given. Raises BenchError without it, or if
    the file does not record what is needed; FrameError if it can't be read.
    """
    frame = open_frame(file)
    recorded = frame.metadata
    if pitch_um is None:
        raise BenchError(
            f"{file}: files do not tell the pixel pitch; give --pitch-um, the sensor's width in "
            f"mm x 1000 / {frame.width_px}"
        )
    if not recorded.body or not recorded.lens or not recorded.focal_mm or not recorded.f_number:
        raise BenchError(
            f"{file}: body, lens, focal length or f-number is not recorded; leave out --from and "
            "fill in bench.toml by hand"
        )
    body = Body(
        fit_name(recorded.body, "body"),
        pitch_um,
        frame.width_px,
        frame.height_px,
        _mosaic(frame),
        serial=recorded.body_serial,
        firmware=recorded.firmware,
        recorded_as=_as_recorded(recorded.body),
    )
    focal, wide_open = recorded.focal_mm, recorded.f_number
    lens = Lens(
        fit_name(recorded.lens, "lens"),
        focal,
        focal,
        wide_open,
        wide_open,
        serial=recorded.lens_serial,
        recorded_as=_as_recorded(recorded.lens),
        notes="focal_mm and f_number are those of one frame: put in the lens's own",
    )
    return body, (lens,)


def _mosaic(frame: Frame) -> Mosaic:
    if frame.kind != "mosaic":
        return "none"
    return "bayer" if frame.pattern.shape == (2, 2) else "6x6"


def _as_recorded(name: str) -> tuple[str, ...]:
    """The camera's own spelling, where the name had to be made fit."""
    return () if fit_name(name, "") == name else (name,)
