"""Stand-ins for decoder and measurer: tiny text files that say what is in the frame.

A file holds lines `key = value` (JSON values): what the camera would have recorded, and what the
spot would measure. Spawned workers import this module by its name, so it stays free of pytest.
"""

from __future__ import annotations

import hashlib
import json
import os
import time
from datetime import datetime
from pathlib import Path

import numpy as np

from nightglass.frame.errors import FrameError
from nightglass.frame.record import Frame, Metadata
from nightglass.spot.record import Measured, Spot, SpotImage

OPENER = "bench_fakes:open_fake"
MEASURER = "bench_fakes:measure_fake"

WIDTH_PX, HEIGHT_PX = 3872, 2592
BENCH_TOML = """[body]
name = "Loan body"
pitch_um = 6.05
width_px = 3872
height_px = 2592
[[lens]]
name = "Wren"
focal_mm = 12
f_number = 2
[[lens]]
name = "Dipper"
focal_mm = [11, 18]
f_number = 3.2
[[place]]
name = "centre"
[[place]]
name = "corner"
x_percent = 90
y_percent = 88
"""


def fake_file(path: Path, **said: object) -> Path:
    """Write a pretended raw file; every file gets content of its own from its path."""
    path.parent.mkdir(parents=True, exist_ok=True)
    said = {"content": str(path), "body": "Loan body", "lens": "Wren", "focal_mm": 12.0,
            "f_number": 2.8, "iso": 800, "exposure_true_s": 0.5, **said}  # fmt: skip
    path.write_text("".join(f"{k} = {json.dumps(v)}\n" for k, v in said.items()), "utf-8")
    return path


def said_in(file: str) -> dict[str, object]:
    text = Path(file).read_text("utf-8")
    pairs = (line.split(" = ", 1) for line in text.splitlines())
    return {key: json.loads(value) for key, value in pairs}


def open_fake(file: str) -> Frame:
    try:
        said = said_in(file)
    except OSError as error:
        raise FrameError(file, f"can't be opened ({error.strerror})", "check it") from error
    except ValueError:
        raise FrameError(file, "not a picture", "copy it again from the card") from None
    if said.get("grows"):
        with Path(file).open("a", encoding="utf-8") as stream:
            stream.write("more = 1\n")
    if said.get("dies"):
        os._exit(3)
    if said.get("hangs"):
        time.sleep(60)
    if "broken" in said:
        raise ValueError("index out of the table")
    time.sleep(float(said.get("seconds", 0)))
    names = Metadata.__dataclass_fields__
    values = {key: value for key, value in said.items() if key in names}
    if "taken_at" in values:
        values["taken_at"] = datetime.fromisoformat(str(values["taken_at"]))
    return Frame(
        # One sample stands for the frame; its size is told below.
        samples=np.broadcast_to(
            np.uint16(500), (int(said.get("height", HEIGHT_PX)), int(said.get("width", WIDTH_PX)))
        ),
        pattern=np.array([[0, 1], [1, 2]], dtype=np.uint8),
        black=np.full((2, 2), 256.0),
        clipping=np.full((2, 2), 4095.0),
        kind="mosaic",
        metadata=Metadata(**values),
        file=file,
        content_hash=hashlib.blake2b(Path(file).read_bytes(), digest_size=20).hexdigest(),
    )


def measure_fake(frame, near=None, fov_centre=None, gain_e_per_count=None) -> Measured:
    said = said_in(frame.file)
    x, y = near or (said.get("x", 1935.5), said.get("y", 1295.5))
    spots = tuple(
        Spot(
            frame.file, colour, x_px=x, y_px=y, x_px_err=0.1, y_px_err=0.1,
            length_px=said.get("length", 6.0), length_px_err=0.2, length_px_err_noise=0.05,
            width_px=said.get("width_px", 4.0), width_px_err=0.15, width_px_err_noise=0.05,
            length_at_most_px=said.get("length_at_most"), ee50_px=3.0, ee50_px_err=0.1,
            angle_degrees=said.get("angle"), lean=0.1, lean_err=0.02,
            noise_area_px=said.get("noise_area", 20.0),
            flux_counts=gain_e_per_count, peak_share=said.get("peak", 0.5), aperture_px=9.0,
            snr=300.0,
            flags=tuple(said.get("flags", ())),
        )
        for colour in ("red", "green", "blue")
    )  # fmt: skip
    rows, columns = np.indices((21, 21), dtype=np.float64)
    light = np.exp(-((columns - 10 - x % 1) ** 2) / 8 - (rows - 10 - y % 1) ** 2 / 4.5)
    image = SpotImage((1000 * light).astype(np.float32), int(x) - 10, int(y) - 10)
    return Measured(spots, {"green": image})
