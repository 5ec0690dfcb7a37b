"""Which body of the bench a frame was taken with: by its name, else by its pixels."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from nightglass.bench.store.rows import FrameOnRecord
from nightglass.frame.record import Frame
from nightglass.gear.body import Body, same_body, same_size

NAME_IT = 'say it in bench.toml: [[frames]] with body = "{name}"'


@dataclass(frozen=True)
class SeenOnFile:
    """What a file tells of the body that wrote it; None: not recorded."""

    name: str | None
    serial: str | None
    size_px: tuple[int, int] | None
    """Width and height of the raw area."""
    crop_px: tuple[int, int] | None
    """Width and height of the default crop."""
    mosaic: bool
    """Whether it holds samples behind a mosaic of colours."""

    @property
    def sizes_px(self) -> tuple[tuple[int, int], ...]:
        """The pixel counts that may stand in bench.toml."""
        return tuple(size for size in (self.size_px, self.crop_px) if size is not None)

    def fits_size(self, body: Body) -> bool:
        """Whether a body has these pixels; True where the file tells none."""
        return not self.sizes_px or any(same_size(size, body) for size in self.sizes_px)


def seen_on_record(frame: FrameOnRecord) -> SeenOnFile:
    """Return what a frame on record tells of its body."""
    return SeenOnFile(
        frame.metadata.body,
        frame.metadata.body_serial,
        _pair(frame.width_px, frame.height_px),
        _pair(frame.crop_width_px, frame.crop_height_px),
        frame.kind == "mosaic",
    )


def seen_in_frame(frame: Frame) -> SeenOnFile:
    """Return what an open frame tells of its body."""
    crop = (frame.crop_px[3], frame.crop_px[2]) if frame.crop_px else None
    return SeenOnFile(
        frame.metadata.body,
        frame.metadata.body_serial,
        (frame.width_px, frame.height_px),
        crop,
        frame.kind == "mosaic",
    )


def body_of(seen: SeenOnFile, bodies: Sequence[Body], said: str | None = None) -> Body | str:
    """Return the body that took a frame, or why none of them did and what to do.

    said: the name that [[frames]] give. Else the recorded name counts, and where none is recorded
    the pixel count; a frame that could be of two bodies belongs to neither.
    """
    if said is not None:
        fits = [body for body in bodies if said == body.name]
        fits = fits or [body for body in bodies if said in body.recorded_as]
        if len(fits) > 1:
            return _two_of_them(f'"{said}"', fits)
    elif seen.name:
        fits = _by_name(seen.name, seen, bodies)
        if not fits:
            return _unknown_name(seen.name, bodies)
        if len(fits) > 1:
            serial = seen.serial or "not recorded"
            return _two_of_them(f'"{seen.name}" (serial {serial})', fits)
    else:
        fits = [body for body in bodies if seen.fits_size(body)]
        if len(fits) > 1:
            fits = [body for body in fits if not (seen.mosaic and body.mosaic == "none")] or fits
        if len(fits) > 1:
            return _two_of_them("a frame that records no body", fits)
        if not fits:
            return _other_pixels(seen, bodies)
    return fits[0] if seen.fits_size(fits[0]) else _other_pixels(seen, fits)


def known_gain(
    seen: SeenOnFile, iso: int | None, bodies: Sequence[Body], said: str | None = None
) -> float | None:
    """Return electrons per count at an ISO of the body that took a frame; None if not known.

    A bench of one body takes every frame for that body's own here: what is wrong with a frame is
    told where results are read.
    """
    body = bodies[0] if len(bodies) == 1 else body_of(seen, bodies, said)
    return None if iso is None or isinstance(body, str) else body.gain_e_per_count.get(iso)


def _pair(width_px: int | None, height_px: int | None) -> tuple[int, int] | None:
    return (width_px, height_px) if width_px and height_px else None


def _by_name(recorded: str, seen: SeenOnFile, bodies: Sequence[Body]) -> list[Body]:
    """The bodies that write this name, fewer where spelling, serial or pixels tell them apart."""
    fits = [body for body in bodies if same_body(recorded, body)]
    for tells in (
        lambda body: recorded in (body.name, *body.recorded_as),
        lambda body: seen.serial is not None and body.serial == seen.serial,
        seen.fits_size,
    ):
        if len(fits) > 1:
            fits = [body for body in fits if tells(body)] or fits
    return fits


def _two_of_them(what: str, fits: Sequence[Body]) -> str:
    names = " and ".join(body.name for body in fits)
    return (
        f"{what} could be of {names}; {NAME_IT.format(name=fits[0].name)}, or give each body its "
        "serial or the name that it records (recorded_as)"
    )


def _unknown_name(recorded: str, bodies: Sequence[Body]) -> str:
    known = " and ".join(f'"{body.name}"' for body in bodies)
    which = "[body]" if len(bodies) == 1 else "the right one"
    return (
        f'taken with the body "{recorded}", but bench.toml has {known}; describe it as an '
        f"[[other_body]], or add the name to recorded_as of {which}"
    )


def _other_pixels(seen: SeenOnFile, bodies: Sequence[Body]) -> str:
    whole, crop = seen.size_px or seen.crop_px or (0, 0), seen.crop_px
    cropped = f" (cropped to {crop[0]} x {crop[1]})" if crop and crop != seen.size_px else ""
    stated = " and ".join(f"{body.width_px} x {body.height_px}" for body in bodies)
    which = "[body]" if len(bodies) == 1 else "the bodies"
    return (
        f"{whole[0]} x {whole[1]} pixels{cropped}, but bench.toml says {stated}; correct {which}, "
        "or leave out frames of another body or a reduced raw size"
    )
