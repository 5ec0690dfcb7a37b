"""A frame of the night sky and three pictures that a club member made of it.

What was done to each picture is stated here: noise reduction and sharpening, blotches, and a
colour space that the file does not name.
"""

from __future__ import annotations

import io
import os
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import rawpy
import tifffile
from PIL import Image, ImageCms
from scipy.ndimage import gaussian_filter, median_filter

from nightglass.frame.record import Metadata
from nightglass.optics.arrays import Counts, Floats, Floats32
from nightglass.scene.dng import write_dng
from nightglass.scene.sky.fieldspots import Aberrations
from nightglass.scene.sky.light import RGGB
from nightglass.scene.sky.starfield import Scene, lens_spots, render
from nightglass.sky.astrometry.camera import look_at, plain_camera

WIDTH_PX, HEIGHT_PX, PITCH_UM, FOCAL_MM, F_NUMBER = 1320, 880, 5.9, 24.0, 2.8
BLACK, CLIPPING = 512, 16000
COLOUR_SHARES = (0.5, 1.0, 0.6)
SKY_COUNTS = (105.0, 300.0, 260.0)
BRIGHTENED = 9.0
"""Of the developed pictures: light that is this share of clipping becomes white."""
NOISE_REDUCED_PX, KEPT_SIGMAS = 7, 8.0
"""Side of the median, and what stands out of it far enough to stay as it was."""
SHARPENED_PX, SHARPENED = 1.5, 2.0
"""Radius and strength of the unsharp mask."""
SMALL_SHARE = 0.7
BLOTCH_PX, BLOTCH = 10.0, 0.02
"""Radius of the planted blotches in the small picture, and their share of the sky's light."""
QUALITY = 88
SEED = 1904
FRAME, CLEAN, SMOOTH, SMALL = "frame.dng", "clean.tif", "smooth.tif", "small.jpg"
SRGB_XY = ((0.3127, 0.3290), (0.64, 0.33), (0.30, 0.60), (0.15, 0.06))
WIDE_XY = ((0.3457, 0.3585), (0.7347, 0.2653), (0.1596, 0.8404), (0.0366, 0.0001))
WIDE_EXPONENT = 1.8
"""White and primaries (x, y): sRGB of IEC 61966-2-1, ROMM RGB of ISO 22028-2 (from memory)."""
TO_D50 = ((1.0479, 0.0229, -0.0502), (0.0296, 0.9904, -0.0171), (-0.0092, 0.0151, 0.7517))
"""Bradford's change of white from D65 to D50, as ICC.1:2022, annex E, has it (from memory)."""

DONE: dict[str, str] = {
    CLEAN: "brightened, nothing else; 16 bits, profile sRGB",
    SMOOTH: f"median of {NOISE_REDUCED_PX} px against noise, then sharpened with a radius of "
    f"{SHARPENED_PX} px; 16 bits, profile sRGB",
    SMALL: f"made smaller to {100 * SMALL_SHARE:.0f} %, colour blotches of {100 * BLOTCH:.0f} % "
    f"added; 8 bits, 4:2:0, in the colours of ROMM RGB without a profile",
}
"""What was done to each picture: the truth that `finish` is to find."""


def stage_finish(folder: Path) -> tuple[tuple[Path, ...], int]:
    """Render the frame, develop the pictures; return all paths and how many were made now.

    What is there is kept: a file gets its name when it is whole. The same files come out of every
    run. Raises OSError where the folder can't be written.
    """
    folder.mkdir(parents=True, exist_ok=True)
    made = 0
    writers: dict[str, Callable[[Path, Path], None]] = {
        FRAME: _write_frame, CLEAN: _write_clean, SMOOTH: _write_smooth, SMALL: _write_small,
    }  # fmt: skip
    for name, write in writers.items():
        if not (folder / name).is_file():
            unfinished = folder / f".unfinished-{name}"
            write(unfinished, folder / FRAME)
            os.replace(unfinished, folder / name)
            made += 1
    return tuple(folder / name for name in writers), made


def frame_counts() -> Counts:
    """Return the counts of the frame, (rows, columns) uint16, RGGB."""
    camera = plain_camera(WIDTH_PX, HEIGHT_PX, FOCAL_MM * 1000 / PITCH_UM)
    blur = Aberrations(0.75, 0.3, 1.2, 0.9, 0.5)
    scene = Scene(
        camera=camera,
        rotation=look_at(285.0, -5.0, 12.0),
        spots=lens_spots(camera, PITCH_UM, F_NUMBER, blur, (3, 3)),
        exposure_s=8.0,
        faintest_g=11.2,
        zero_counts_per_s=3.0e5,
        sky_counts=SKY_COUNTS,
        glow=0.25,
        colour_shares=COLOUR_SHARES,
        gain_e_per_count=1.0,
        black=BLACK,
        clipping=CLIPPING,
        hot_pixels=0,
        satellites=0,
        rate=0.0,
        seed=SEED,
    )
    return np.asarray(render(scene)[0].samples, dtype=np.uint16)


def _write_frame(path: Path, frame: Path) -> None:
    said = Metadata(
        exposure_marked_s=8.0,
        exposure_true_s=8.0,
        f_number=F_NUMBER,
        focal_mm=FOCAL_MM,
        iso=1600,
        taken_at=datetime(2026, 8, 14, 22, 40, tzinfo=UTC),
        zone_known=True,
        body="Harbour Lane second body",
        lens="Plover 24 mm f/2.2",
        exposure_mode="manual",
    )
    pattern = np.array(RGGB, dtype=np.uint8)
    write_dng(
        path, frame_counts(), white_level=CLIPPING, pattern=pattern, black=BLACK, metadata=said
    )


def developed(frame: Path) -> Floats32:
    """Return linear light (rows, columns, 3) of a raw frame, by LibRaw's own filling in.

    White balance makes white stars white and leaves a bluish sky; the camera's colours are taken
    for those of sRGB.
    """
    red, green, blue = COLOUR_SHARES
    with rawpy.imread(str(frame)) as raw:
        planes = raw.postprocess(
            output_bps=16,
            no_auto_bright=True,
            bright=BRIGHTENED,
            user_wb=[green / red, 1.0, green / blue, 1.0],
            gamma=(1, 1),
            output_color=rawpy.ColorSpace.raw,
            user_flip=0,
        )
    return np.asarray(planes, dtype=np.float32) / np.float32(65535)


def smoothed(light: Floats32) -> Floats32:
    """Return encoded light after noise reduction that eats faint stars, and sharpening."""
    planes = []
    for k in range(3):
        plane = encoded(light[..., k])
        quiet = median_filter(plane, NOISE_REDUCED_PX)
        rest = plane - quiet
        sigma = 1.4826 * float(np.median(np.abs(rest)))
        kept = np.where(np.abs(rest) > KEPT_SIGMAS * sigma, plane, quiet)
        blurred = gaussian_filter(kept, SHARPENED_PX)
        planes.append(kept + SHARPENED * (kept - blurred))
    return np.clip(np.stack(planes, axis=-1), 0, 1)


def blotched(light: Floats32) -> Floats32:
    """Return light with patches of colour that leave its brightness alone."""
    rng = np.random.default_rng([SEED, 1])
    noise = rng.standard_normal((*light.shape[:2], 2))
    red, blue = (gaussian_filter(noise[..., k], BLOTCH_PX) for k in range(2))
    red, blue = BLOTCH * red / red.std(), BLOTCH * blue / blue.std()
    factor = np.stack([1 + red, 1 - (red + blue) / 2, 1 + blue], axis=-1)
    return np.asarray(light * factor, dtype=np.float32)


def encoded(light: Floats32) -> Floats32:
    """Return values by the curve of sRGB (IEC 61966-2-1)."""
    bright = 1.055 * np.maximum(light, 1e-9) ** (1 / 2.4) - 0.055
    return np.where(light <= 0.0031308, 12.92 * light, bright).astype(np.float32)


def in_wide_space(light: Floats32) -> Floats32:
    """Return values of ROMM RGB for linear light of sRGB's primaries."""
    matrix = np.linalg.inv(_to_xyz(WIDE_XY)) @ np.array(TO_D50) @ _to_xyz(SRGB_XY)
    return np.clip(light @ matrix.T, 0, 1).astype(np.float32) ** np.float32(1 / WIDE_EXPONENT)


def _to_xyz(xy: tuple[tuple[float, float], ...]) -> Floats:
    """The matrix from linear light to XYZ: primaries scaled so that their sum is white."""
    white, *colours = ([x / y, 1.0, (1 - x - y) / y] for x, y in xy)
    parts = np.array(colours).T
    return np.asarray(parts * np.linalg.solve(parts, np.array(white)))


def _write_clean(path: Path, frame: Path) -> None:
    _write_tiff(path, encoded(developed(frame)))


def _write_smooth(path: Path, frame: Path) -> None:
    _write_tiff(path, smoothed(developed(frame)))


def _write_small(path: Path, frame: Path) -> None:
    size = (round(WIDTH_PX * SMALL_SHARE), round(HEIGHT_PX * SMALL_SHARE))
    light = developed(frame)
    small = [
        np.asarray(Image.fromarray(light[..., k]).resize(size, Image.Resampling.LANCZOS))
        for k in range(3)
    ]
    values = in_wide_space(blotched(np.maximum(np.stack(small, axis=-1), 0)))
    packed = io.BytesIO()
    Image.fromarray(np.rint(255 * values).astype(np.uint8)).save(
        packed, format="JPEG", quality=QUALITY, subsampling=2
    )
    path.write_bytes(packed.getvalue())


def _write_tiff(path: Path, values: Floats32) -> None:
    whole = np.rint(65535 * np.clip(values, 0, 1)).astype(np.uint16)
    profile = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
    tifffile.imwrite(path, whole, photometric="rgb", iccprofile=profile, software=False)
