"""Files that can't be read: one line with file, cause and what to do (limits R08 to R30)."""

from __future__ import annotations

import contextlib
import io
import os
import pickle
import shutil
import subprocess
import sys
import time
import unicodedata
from pathlib import Path

import numpy as np
import pytest

from nightglass.frame.errors import FrameError
from nightglass.frame.open import open_frame
from nightglass.frame.source import opened


def error_of(source) -> FrameError:
    with pytest.raises(FrameError) as caught:
        open_frame(source)
    text = str(caught.value)
    assert "\n" not in text
    assert text == f"{caught.value.file}: {caught.value.cause}; {caught.value.remedy}"
    return caught.value


def test_missing_file_folder_and_empty_file_each_have_their_own_message(tmp_path):
    assert error_of(tmp_path / "no.dng").cause == "no such file"
    assert error_of(tmp_path / "no.dng").remedy == "check the name and the folder"
    assert error_of(tmp_path).cause == "a folder, not a picture file"
    (tmp_path / "empty.dng").touch()
    assert error_of(tmp_path / "empty.dng").cause == "an empty file (0 bytes)"
    assert error_of(b"").cause == "an empty file (0 bytes)"


def test_file_without_read_permission_says_so(make_dng, sky, monkeypatch):
    """Root may read everything: the refusal is made by hand."""
    path = make_dng(sky)

    def refuse(*_args, **_kwargs):
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr("builtins.open", refuse)
    assert error_of(path).cause == "no permission to read it"


def test_disk_error_while_reading_names_the_disk(make_dng, sky):
    class Failing(io.BytesIO):
        def read(self, size=-1):
            if size is None or not 0 <= size < 10_000:
                raise OSError(5, "Input/output error")
            return super().read(size)

    error = error_of(Failing(make_dng(sky).read_bytes()))
    assert "Input/output error" in error.cause
    assert error.remedy == "check the disk or card"


@pytest.mark.parametrize("compression", ["none", "lossless jpeg"])
@pytest.mark.parametrize("share", [0.05, 0.5, 0.97])
def test_cut_off_file_gives_one_clean_error(make_dng, sky, compression, share):
    data = make_dng(sky, compression=compression).read_bytes()
    error = error_of(data[: int(share * len(data))])
    assert error.cause == "the picture data are damaged or cut off"
    assert error.remedy == "copy the file again from the card"


def test_overwritten_lossless_jpeg_is_damage(make_dng):
    """200 bytes overwritten where the decoder can tell; about a third of such damage still is
    valid code and can't be told without a checksum in the file (LIMITS.md, R18)."""
    samples = np.random.default_rng(11).normal(1000, 20, (700, 900)).round().astype(np.uint16)
    data = bytearray(make_dng(samples, compression="lossless jpeg").read_bytes())
    middle = int(0.21 * len(data))
    data[middle : middle + 200] = np.random.default_rng(1).bytes(200)
    assert error_of(bytes(data)).cause == "the picture data are damaged or cut off"


@pytest.mark.parametrize("compression", [34713, 60000])
def test_unknown_compression_names_the_camera_setting(make_dng, patch_tag, sky, compression):
    error = error_of(patch_tag(make_dng(sky), 259, compression))
    assert error.cause == "the compression mode of this raw file can't be decoded"
    assert error.remedy.startswith("set the camera to lossless or no compression")


def test_jpeg_xl_is_named(make_dng, patch_tag, sky):
    error = error_of(patch_tag(make_dng(sky), 259, 52546))
    assert error.cause == "compressed with JPEG XL, which the decoder lacks"
    assert error.remedy == "convert it to a DNG with lossless JPEG or none"


def test_reduced_size_raw_is_named(tmp_path):
    """An 8-bit YCbCr full-size image under a maker's name, in a compression nobody knows."""
    import tifffile

    path = tmp_path / "reduced.dng"
    tifffile.imwrite(
        path,
        np.zeros((64, 96, 3), dtype=np.uint8),
        photometric="rgb",
        metadata=None,
        extratags=[(50706, "B", 4, bytes((1, 4, 0, 0))), (271, "s", 0, "Maker")],
    )
    with tifffile.TiffFile(path) as tiff:
        places = {code: tiff.pages.first.tags[code].valueoffset for code in (259, 262)}
    with path.open("r+b") as file:
        for code, value in ((259, 34713), (262, 6)):
            file.seek(places[code])
            file.write(value.to_bytes(2, "little"))
    error = error_of(path)
    assert error.cause == "a reduced-size raw (M or S), which holds no mosaic"
    assert error.remedy == "set the camera to full-size raw (L)"


def test_header_that_claims_65000_by_65000_is_refused_at_once(make_dng, patch_tag, sky):
    path = make_dng(sky)
    for code in (256, 257, 278):
        patch_tag(path, code, 65000)
    began = time.perf_counter()
    error_of(path.read_bytes()[:1500])
    assert time.perf_counter() - began < 1


def test_rubbish_under_a_raws_name_is_no_picture(tmp_path):
    path = tmp_path / "frame.nef"
    path.write_bytes(b"hello " * 200)
    error = error_of(path)
    assert error.cause == "not a picture file that can be read"
    assert "camera raws or DNG" in error.remedy


@pytest.mark.parametrize(
    "start", [b"\xff\xd8\xff\xe0", b"\x89PNG\r\n\x1a\n", b"SIMPLE  =", b"II*\0"]
)
def test_picture_headers_with_rubbish_behind_are_damage(start):
    error = error_of(start + np.random.default_rng(5).bytes(3000))
    assert "damaged" in error.cause or "not a picture" in error.cause


def test_file_that_grows_while_it_is_read_is_refused(make_dng, sky, monkeypatch):
    path = make_dng(sky)
    import nightglass.frame.open as module

    plain = module.unpacked

    def growing(*arguments):
        result = plain(*arguments)
        with path.open("ab") as file:
            file.write(b"more")
        return result

    monkeypatch.setattr(module, "unpacked", growing)
    error = error_of(path)
    size = path.stat().st_size
    assert error.cause == f"changed while it was read ({size - 4} to {size} bytes)"
    assert error.remedy == "wait until the copy has finished, then measure again"
    monkeypatch.setattr(module, "unpacked", lambda *a: (plain(*a), path.unlink())[0])
    assert error_of(path).cause == "gone while it was read"


@pytest.mark.parametrize(
    "name",
    [
        "ü é 空/a b.dng",
        unicodedata.normalize("NFD", "Aufnahme Käuzchen é.dng"),
        "/".join(["long name of a folder " * 5] * 3) + "/frame.dng",
        "frame.jpg",
        "frame",
    ],
)
def test_any_name_opens(make_dng, sky, name):
    """Spaces, other letters, decomposed accents, over 260 characters, a wrong extension."""
    np.testing.assert_array_equal(open_frame(make_dng(sky, name=name)).samples, sky)


def test_name_that_is_no_unicode_opens_by_file_object(make_dng, sky, tmp_path):
    odd = os.fsdecode(os.path.join(os.fsencode(tmp_path), b"caf\xe9.dng"))
    os.rename(make_dng(sky), odd)
    np.testing.assert_array_equal(open_frame(odd).samples, sky)


def test_str_path_bytes_and_file_objects_are_alike(make_dng, sky):
    path = make_dng(sky)
    data = path.read_bytes()
    with path.open("rb") as file:
        frames = [open_frame(s) for s in (str(path), path, data, io.BytesIO(data), file)]
        assert not file.closed
    assert len({frame.content_hash for frame in frames}) == 1
    for frame in frames:
        np.testing.assert_array_equal(frame.samples, sky)
        assert frame.metadata == frames[0].metadata
    assert [frame.file for frame in frames] == [str(path), str(path), "bytes", "bytes", str(path)]


def test_content_hash_is_blake2b_of_the_bytes(make_dng, sky):
    import hashlib

    path = make_dng(sky)
    expected = hashlib.blake2b(path.read_bytes(), digest_size=20).hexdigest()
    with opened(path) as source:
        assert source.content_hash == expected
    assert open_frame(path).content_hash == expected


@pytest.mark.skipif(not Path("/proc/self/fd").exists(), reason="counts handles in /proc")
def test_file_handle_is_free_after_success_and_after_an_error(make_dng, sky):
    good, bad = make_dng(sky), make_dng(sky, name="bad.dng")
    bad.write_bytes(bad.read_bytes()[:90000])

    def held():
        links = [os.path.join("/proc/self/fd", name) for name in os.listdir("/proc/self/fd")]
        return [os.readlink(link) for link in links if os.path.islink(link)]

    open_frame(good)
    error_of(bad)
    assert not [name for name in held() if name.endswith((good.name, bad.name))]
    assert str(good) not in Path("/proc/self/maps").read_text()
    good.rename(good.with_name("moved.dng"))


def test_error_survives_the_way_back_from_a_worker():
    error = FrameError("a b.dng", "no such file", "check the name")
    again = pickle.loads(pickle.dumps(error))
    assert str(again) == str(error) == "a b.dng: no such file; check the name"


def test_samples_outlive_the_decoder(make_dng, sky):
    """In a child: touching the decoder's memory after close would end the process (limit R20)."""
    path = make_dng(sky)
    frame = open_frame(path)
    assert frame.samples.flags.owndata
    code = (
        "import sys, gc; from nightglass.frame.open import open_frame\n"
        "f = open_frame(sys.argv[1]); gc.collect(); print(int(f.samples.sum()))"
    )
    done = subprocess.run(
        [sys.executable, "-c", code, str(path)], capture_output=True, text=True, check=True
    )
    assert int(done.stdout) == int(sky.sum(dtype=np.int64))


@pytest.mark.parametrize("seed", range(4))
def test_flipped_header_bytes_give_a_frame_or_one_frame_error(make_dng, seed):
    """60 damaged headers each: nothing but FrameError comes out, none takes a second."""
    samples = np.random.default_rng(7).normal(1000, 20, (64, 96)).round().astype(np.uint16)
    data = make_dng(samples, black=[[500, 501], [502, 503]]).read_bytes()
    generator = np.random.default_rng(seed)
    for _ in range(60):
        changed = bytearray(data)
        for place in generator.integers(4, 700, 4):
            changed[place] = generator.integers(0, 256)
        began = time.perf_counter()
        with contextlib.suppress(FrameError):
            assert open_frame(bytes(changed)).samples.ndim in (2, 3)
        assert time.perf_counter() - began < 1


@pytest.mark.skipif(not Path("/proc/self/status").exists(), reason="reads peak memory in /proc")
def test_opening_costs_the_decoders_mosaic_and_one_copy(make_dng, tmp_path):
    """12 Mpx uncompressed: peak at most 4 bytes per pixel above the decoder's 2 and libraries."""
    samples = np.random.default_rng(9).integers(500, 540, (3000, 4000)).astype(np.uint16)
    # A small frame first: what libraries need when they are first used is not the frame's.
    small = Path(shutil.copy(make_dng(samples[:400, :600]), tmp_path / "small.dng"))
    path = make_dng(samples)
    code = (
        "import sys, re; from nightglass.frame.open import open_frame\n"
        "peak = lambda: int(re.search("
        "r'VmHWM:\\s+(\\d+)', open('/proc/self/status').read())[1])\n"
        "open_frame(sys.argv[2]); before = peak(); frame = open_frame(sys.argv[1])\n"
        "print(peak() - before)"
    )
    done = subprocess.run(
        [sys.executable, "-c", code, str(path), str(small)],
        capture_output=True,
        text=True,
        check=True,
    )
    assert int(done.stdout) * 1024 / samples.size < 2 + 4
