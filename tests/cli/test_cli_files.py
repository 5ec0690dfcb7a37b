"""Odd files at the door: one line each on the error output, ours, and the right exit code."""

from __future__ import annotations

import io
import os
import subprocess
import sys

import numpy as np
import pytest
from astropy.io import fits
from PIL import Image

from nightglass.cli.doors import DONE, FAILED
from nightglass.cli.main import run
from nightglass.scene.dng import write_dng


@pytest.fixture
def star():
    """A star of 5 px on noise, green mosaic samples and all others alike."""
    y, x = np.mgrid[:200, :260]
    light = 6000 * np.exp(-((x - 120.4) ** 2 + (y - 90.7) ** 2) / 8)
    noise = np.random.default_rng(2).normal(1000, 10, light.shape)
    return (light + noise).round().astype(np.uint16)


def told(*arguments):
    """Run the program as a person does; return exit code, output and error output."""
    done = subprocess.run(
        [sys.executable, "-m", "nightglass.cli.main", *arguments],
        capture_output=True,
        text=True,
        check=False,
    )
    return done.returncode, done.stdout, done.stderr


@pytest.fixture
def cut_off(tmp_path, star):
    path = tmp_path / "cut.dng"
    write_dng(path, star, white_level=16383, pattern=[[0, 1], [1, 2]], compression="none")
    path.write_bytes(path.read_bytes()[:60_000])
    return path


def test_a_damaged_file_gives_one_line_and_the_decoder_none(cut_off):
    code, out, err = told("spot", str(cut_off))
    assert (code, out) == (FAILED, "")
    assert err == (
        f"{cut_off}: the picture data are damaged or cut off; copy the file again from the card\n"
    )


def test_lines_of_libraries_are_kept_off_and_ours_arrive():
    """A library writes to the descriptor; afterwards everything is as it was."""
    code = (
        "import os, sys\n"
        "from nightglass.cli.quiet import own_words_only\n"
        "with own_words_only():\n"
        "    os.write(2, b'Unexpected end of file\\n')\n"
        "    print('ours, \u00e9', file=sys.stderr)\n"
        "os.write(2, b'after\\n')\n"
        "print('the end', file=sys.stderr)\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, encoding="utf-8", check=True
    )
    assert done.stderr == "ours, \u00e9\nafter\nthe end\n"


def test_a_jpeg_in_a_raws_clothes_is_named_with_exit_code_one(tmp_path, star, capsys):
    path = tmp_path / "frame.nef"
    Image.fromarray((star >> 6).astype(np.uint8)).save(path, "JPEG")
    assert run(["spot", str(path)]) == FAILED
    err = capsys.readouterr().err
    assert err == (
        f"{path}: a JPEG under the name of a raw file (.nef); give the raw file itself, or rename "
        "it to .jpeg\n"
    )


def test_image_of_a_fits_file_is_chosen_by_name(tmp_path, star, capsys):
    path = tmp_path / "two.fits"
    images = [fits.ImageHDU(star, name="SCI"), fits.ImageHDU(np.flipud(star), name="TURNED")]
    fits.HDUList([fits.PrimaryHDU(), *images]).writeto(path)
    assert run(["spot", str(path)]) == DONE
    plain = capsys.readouterr().out
    assert "1 SCI is used; nightglass spot takes another with --image NAME" in plain
    assert " 90.7 " in plain
    assert run(["spot", str(path), "--image", "turned"]) == DONE
    turned = capsys.readouterr().out
    assert " 108.3 " in turned
    assert "2 TURNED is used" in turned
    assert run(["spot", str(path), "--image", "dark"]) == FAILED
    assert 'no image "dark" in the FITS file; it holds 1 SCI, 2 TURNED' in capsys.readouterr().err


@pytest.mark.skipif(os.name != "posix", reason="names are text elsewhere")
def test_a_name_that_is_no_utf8_is_measured_and_told_escaped(tmp_path, star, capsys):
    path = os.path.join(os.fsencode(tmp_path), b"caf\xe9.fits")
    buffer = io.BytesIO()
    fits.PrimaryHDU(star).writeto(buffer)
    with open(path, "wb") as file:
        file.write(buffer.getvalue())
    code, out, err = told("spot", os.fsdecode(path))
    assert (code, err) == (DONE, "")
    assert "caf\\xe9.fits" in out
    # What follows needs no shell: the streams of this process are as strict.
    assert run(["spot", os.fsdecode(path), "--json"]) == DONE
    capsys.readouterr()
    assert run(["spot", os.fsdecode(path[:-5] + b".no")]) == FAILED
    err = capsys.readouterr().err
    assert err == f"{tmp_path}/caf\\xe9.no: no such file; check the name and the folder\n"
