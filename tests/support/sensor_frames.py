"""Frames of drawn sensors, in memory or as raw files, for the tests of the sensor room."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from pathlib import Path

import numpy as np

from nightglass.frame.record import Frame, Metadata
from nightglass.scene.dng import write_dng
from nightglass.scene.flats import DARK, Chip, Light, expose_flat

BAYER = np.array([[0, 1], [1, 2]], dtype=np.uint8)
SIX = np.array(
    [[1, 0, 1, 1, 2, 1], [2, 1, 2, 0, 1, 0], [1, 0, 1, 1, 2, 1],
     [1, 2, 1, 1, 0, 1], [0, 1, 0, 2, 1, 2], [1, 2, 1, 1, 0, 1]],
    dtype=np.uint8,
)  # fmt: skip
GREY = np.array([[1]], dtype=np.uint8)
BLACK, CLIPPING = 512, 16383


def chip(gain: float = 1.0, noise: float = 3.0, **more: object) -> Chip:
    """A sensor of 288 x 192 px with a fault or two."""
    given: dict[str, object] = {"width_px": 288, "height_px": 192, "pattern": BAYER}
    given |= {"black": BLACK, "clipping": CLIPPING, "seed": 3, **more}
    return Chip(gain_e_per_count=gain, read_noise_e=noise, **given)  # type: ignore[arg-type]


def frame(sensor: Chip, counts: np.ndarray, file: str = "a.dng", **said: object) -> Frame:
    """An opened frame of those counts."""
    return Frame(
        samples=counts,
        pattern=sensor.pattern,
        black=np.full(sensor.pattern.shape, float(round(sensor.black))),
        clipping=np.full(sensor.pattern.shape, float(sensor.clipping)),
        kind="mosaic",
        metadata=Metadata(**said),  # type: ignore[arg-type]
        file=file,
        content_hash=file,
    )


@dataclass
class Roll:
    """Frames taken one after the other; each draws its own noise."""

    sensor: Chip
    iso: int = 800
    body: str = "Test body"
    seed: int = 1
    frames: list[Frame] = field(default_factory=list)

    def take(self, light: Light = DARK, seconds: float = 1 / 4000, **said: object) -> np.ndarray:
        """Take one frame and return its counts, which may be changed in place."""
        rng = np.random.default_rng([self.seed, len(self.frames)])
        counts = expose_flat(self.sensor, light, seconds, rng)
        known: dict[str, object] = {
            "exposure_marked_s": seconds, "exposure_true_s": seconds, "iso": self.iso,
            "body": self.body, "body_serial": "7", "f_number": 5.6,
        }  # fmt: skip
        name = str(said.pop("name", f"{len(self.frames):03d}.dng"))
        self.frames.append(frame(self.sensor, counts, name, **{**known, **said}))
        return counts

    def bias(self, number: int = 2) -> Roll:
        """Take frames with the cap on at the shortest time."""
        for _ in range(number):
            self.take()
        return self

    def flats(self, shares: Iterable[float], unsteady: float = 0.01, **light: object) -> Roll:
        """Take pairs of a lit screen at shares of full scale; the time makes the level."""
        rng = np.random.default_rng([self.seed, 77])
        for share in shares:
            for _ in range(2):
                level = share * self.sensor.full_scale_e / self.sensor.multiplied
                level *= 1 + unsteady * rng.standard_normal()
                self.take(Light(level, **light), share)  # type: ignore[arg-type]
        return self

    def write(self, folder: Path) -> list[tuple[Path, str]]:
        """Write the frames as raw files; return path and name of each."""
        folder.mkdir(parents=True, exist_ok=True)
        for one in self.frames:
            write_dng(
                folder / one.file, one.samples, white_level=self.sensor.clipping,
                pattern=self.sensor.pattern, black=round(self.sensor.black),
                metadata=one.metadata, compression="none", verify=False,
            )  # fmt: skip
        return [(folder / one.file, one.file) for one in self.frames]


def in_memory(monkeypatch: object, frames: Iterable[Frame]) -> list[tuple[Path, str]]:
    """Let the sensor room open these frames by name; return path and name of each."""
    from nightglass.frame.levels import pooled_clipping, top_samples, with_clipping
    from nightglass.sensor import dark_pairs, flat_pairs, look

    known = {}
    for one in frames:
        top = top_samples(one)
        known[Path(one.file)] = replace(with_clipping(one, pooled_clipping([top])), top=top)
    for room in (look, dark_pairs, flat_pairs):
        monkeypatch.setattr(room, "open_frame", lambda path: known[path])  # type: ignore[attr-defined]
    return [(path, path.name) for path in known]
