"""What is recorded, what isn't, and odd Exif that ends nothing (limits E01 to E09, E11)."""

from __future__ import annotations

import hashlib
import io
import struct
import subprocess
import sys
import threading
from datetime import UTC, datetime, timedelta, timezone
from fractions import Fraction

import numpy as np
import pytest
from PIL import Image

from nightglass.frame.metadata import read_exif, read_metadata
from nightglass.frame.open import open_frame
from nightglass.frame.raw import DecoderMetadata
from nightglass.frame.record import Metadata
from nightglass.frame.recorded import clean_text, number, signed_number, taken_at
from nightglass.frame.source import opened
from nightglass.scene.exif_bytes import AsciiTag, LongTag, RationalTag, exif_ifd

FOCAL, F_NUMBER, EXPOSURE, ISO = 37386, 33437, 33434, 34855
LENS, BODY_SERIAL, LENS_SERIAL = 42036, 42033, 42037
WHEN, OFFSET, SUBSECONDS, SHUTTER, MAKER_NOTE = 36867, 36881, 37521, 37377, 37500


class Pointer(LongTag):
    """Always 32 bits: what libexiv2 wants for the place of a directory."""

    def packed(self):
        return 4, 1, struct.pack("<I", self.value)


def jpeg_with(exif_tags, main_tags=(), maker_note=b""):
    """A tiny JPEG whose Exif block holds exactly these tags."""
    header = b"II*\0" + struct.pack("<I", 8)
    main = [*main_tags, Pointer(34665, 0)]
    exif_at = 8 + len(exif_ifd(main, 8))
    main[-1] = Pointer(34665, exif_at)
    body = header + exif_ifd(main, 8) + exif_ifd(exif_tags, exif_at) + maker_note
    block = b"Exif\0\0" + body
    buffer = io.BytesIO()
    Image.fromarray(np.full((32, 48), 90, dtype=np.uint8)).save(buffer, "JPEG", exif=block)
    return buffer.getvalue()


def metadata_of(*exif_tags, main_tags=()):
    return open_frame(jpeg_with(exif_tags, main_tags)).metadata


def test_zero_over_zero_is_not_recorded():
    """0/0 and x/0 from a manual lens (limit E02)."""
    found = metadata_of(
        RationalTag(FOCAL, (0, 0)), RationalTag(F_NUMBER, (0, 0)), RationalTag(EXPOSURE, (1, 0))
    )
    assert (found.focal_mm, found.f_number) == (None, None)
    assert (found.exposure_marked_s, found.exposure_true_s) == (None, None)


def test_manual_lens_records_nothing():
    """Blank name of 64 characters, f/0, 0 mm, 65535 (limit E04)."""
    found = metadata_of(
        AsciiTag(LENS, " " * 64),
        RationalTag(F_NUMBER, (0, 1)),
        RationalTag(FOCAL, (0, 1)),
        LongTag(ISO, 65535),
        AsciiTag(LENS_SERIAL, "0"),
        RationalTag(EXPOSURE, Fraction(30)),
    )
    assert (found.lens, found.lens_serial) == (None, None)
    assert (found.f_number, found.focal_mm, found.iso) == (None, None, None)
    assert (found.exposure_marked_s, found.exposure_true_s) == (30, 32)


@pytest.mark.parametrize(
    "text",
    [
        "",
        "   ",
        "\0\0",
        "n/a",
        "N/A",
        "None",
        "Unknown",
        "----",
        "0",
        "65535",
        "0.0 mm f/0.0",
        "0mm",
    ],
)
def test_texts_that_say_nothing(text):
    assert clean_text(text) is None


def test_texts_that_say_something_are_kept_without_padding():
    assert clean_text("  Wren  12 mm f/2 \0\0") == "Wren 12 mm f/2"
    assert clean_text("50 mm") == "50 mm"
    assert clean_text("星のレンズ é") == "星のレンズ é"
    assert clean_text(None) is None


@pytest.mark.parametrize("text", ["", "0", "0/1", "0/0", "5/0", "65535", "-1", "abc", "4294967295"])
def test_numbers_that_say_nothing(text):
    assert number(text) is None


def test_numbers_that_say_something():
    assert number("28/10") == pytest.approx(2.8)
    assert number("100 0") == 100
    assert number("102400") == 102400
    assert signed_number("-5/1") == -5
    assert signed_number("1/0") is None
    assert signed_number("") is None


@pytest.mark.parametrize(
    ("offset", "zone"),
    [
        ("+02:00", timezone(timedelta(hours=2))),
        ("-03:30", timezone(-timedelta(hours=3, minutes=30))),
        ("Z", UTC),
        ("   :  ", None),
        ("", None),
        ("+2:00", None),
        ("+25:00", None),
        ("+02:75", None),
        ("Europe", None),
    ],
)
def test_zone_is_parsed_strictly_or_unknown(offset, zone):
    """Limit E07: an absent, blank or odd offset leaves the zone unknown."""
    found = metadata_of(AsciiTag(WHEN, "2009:03:29 01:02:03"), AsciiTag(OFFSET, offset))
    assert found.taken_at == datetime(2009, 3, 29, 1, 2, 3, tzinfo=zone)
    assert found.zone_known == (zone is not None)


@pytest.mark.parametrize(
    "when", ["0000:00:00 00:00:00", "    :  :     :  :  ", "", "2009:02:30 01:02:03", "yesterday"]
)
def test_impossible_time_is_not_recorded(when):
    assert taken_at(when, "+02:00", "") == (None, False)


@pytest.mark.parametrize(
    ("digits", "microseconds"),
    [("5", 500000), ("050", 50000), ("", 0), (" x", 0), ("1234567", 123456)],
)
def test_subseconds_are_decimals_after_the_point(digits, microseconds):
    found, known = taken_at("2026:01:02 03:04:05", None, digits)
    assert (found.microsecond, known) == (microseconds, False)


def test_exposure_as_power_or_from_the_shutter_value():
    assert metadata_of(RationalTag(EXPOSURE, (32, 1))).exposure_true_s == 32
    assert metadata_of(RationalTag(EXPOSURE, (47, 1))).exposure_true_s == 47


def test_f_number_falls_back_to_the_apex_aperture():
    """Av = 2 log2(N): 3 is f/2.8 (CIPA DC-008, annex C)."""
    assert metadata_of(RationalTag(37378, (3, 1))).f_number == 2.8
    assert metadata_of(RationalTag(37378, (0, 1))).f_number is None


def test_lens_text_wins_over_the_makers_number():
    """A text is taken as it is; a number alone is only a maybe (limit E05)."""
    assert metadata_of(AsciiTag(LENS, "Heron 20 mm f/1.8")).lens == "Heron 20 mm f/1.8"


def test_lens_by_number_is_only_a_maybe(monkeypatch):
    class Named:
        def print(self, _exif):
            return "Dipper 11-18 mm f/3.2"

    monkeypatch.setattr("nightglass.frame.metadata.exiv2.lensName", lambda _exif: Named())
    found = metadata_of(RationalTag(FOCAL, (60, 1)))
    assert found.lens is None
    assert found.notes == (
        "lens may be Dipper 11-18 mm f/3.2: a maker's number that several lenses share",
    )
    assert metadata_of(AsciiTag(LENS, "Heron 20 mm f/1.8")).notes == ()


def test_apex_fields_of_zero_are_empty_fields():
    """Tv 0 is 1 s, Av 0 is f/1 (CIPA DC-008, annex C); beside empty fields they are empty."""
    empty = RationalTag(EXPOSURE, (0, 1000000)), RationalTag(F_NUMBER, (0, 10))
    apex = RationalTag(37377, (0, 96)), RationalTag(37378, (0, 96))
    told = metadata_of(*empty, *apex)
    assert (told.exposure_marked_s, told.exposure_true_s, told.f_number) == (None, None, None)
    second = metadata_of(RationalTag(EXPOSURE, (1, 1)), RationalTag(F_NUMBER, (10, 10)), *apex)
    assert (second.exposure_marked_s, second.exposure_true_s, second.f_number) == (1, 1, 1)


def test_body_name_is_not_doubled():
    make, model = AsciiTag(271, "Maker Corp."), AsciiTag(272, "Maker M5")
    assert metadata_of(main_tags=(make, model)).body == "Maker M5"
    assert metadata_of(main_tags=(make, AsciiTag(272, "M5"))).body == "Maker Corp. M5"
    assert metadata_of(main_tags=(make,)).body is None


def test_iso_beyond_sixteen_bits_is_in_the_newer_tag():
    assert metadata_of(LongTag(ISO, 65535), LongTag(34866, 204800)).iso == 204800


def test_second_reader_fills_what_exif_lacks():
    """No Exif that libexiv2 can read: LibRaw's few fields, under the same rules (limit E01)."""
    decoder = DecoderMetadata(30.0, 2.799999952316284, 12.0, 1600.0, datetime(2026, 3, 4), "Wren")
    with opened(b"\0\0\0\x18ftypcrx " + bytes(500)) as source:
        helped, alone = read_metadata(read_exif(source), decoder), read_metadata(read_exif(source))
    assert (helped.exposure_marked_s, helped.exposure_true_s) == (30, 32)
    assert (helped.f_number, helped.focal_mm, helped.iso, helped.lens) == (2.8, 12, 1600, "Wren")
    assert (helped.taken_at, helped.zone_known) == (datetime(2026, 3, 4), False)
    assert "metadata from the raw decoder alone" in helped.notes
    assert alone.exposure_true_s is None
    assert alone.notes != ()


def test_zero_denominator_in_a_raw_is_not_recorded(make_dng, sky):
    """1777/0 s, f 1999/0, 1888/0 mm: LibRaw divides by 1 where the denominator is 0."""
    wide = Metadata(exposure_marked_s=1777.0, f_number=1999.0, focal_mm=1888.0, iso=1600)
    data = make_dng(sky, metadata=wide).read_bytes()
    found = open_frame(data).metadata
    assert (found.exposure_true_s, found.f_number, found.focal_mm) == (1777, 1999, 1888)
    for value in (1777, 1999, 1888):
        assert data.count(struct.pack("<II", value, 1)) == 1
        data = data.replace(struct.pack("<II", value, 1), struct.pack("<II", value, 0))
    found = open_frame(data).metadata
    assert (found.exposure_marked_s, found.exposure_true_s) == (None, None)
    assert (found.f_number, found.focal_mm, found.iso) == (None, None, 1600)


def test_fields_of_zero_are_not_filled_by_the_decoder():
    """APEX 0/96: the decoder makes 1 s and f/1 of it, where the camera knew nothing."""
    nothing = [RationalTag(code, (0, 96)) for code in (EXPOSURE, F_NUMBER, FOCAL, SHUTTER)]
    with opened(jpeg_with(nothing)) as source:
        found = read_metadata(read_exif(source), DecoderMetadata(1.0, 1.0, 5.0))
    assert (found.exposure_true_s, found.f_number, found.focal_mm) == (None, None, None)


def test_unreadable_and_absent_metadata_are_told_apart(sky):
    buffer = io.BytesIO()
    Image.fromarray((sky >> 8).astype(np.uint8)).save(buffer, "PNG")
    assert open_frame(buffer).metadata.notes == ("no metadata in the file",)
    with opened(b"neither picture nor Exif " * 9) as source:
        assert read_metadata(read_exif(source)).notes[0].startswith("metadata can't be read (")


def test_decoder_zeros_are_not_recorded():
    nothing = DecoderMetadata(0.0, 0.0, 0.0, 65535.0, datetime(1970, 1, 1), "n/a")
    with opened(jpeg_with([])) as source:
        found = read_metadata(read_exif(source), nothing)
    assert (found.exposure_marked_s, found.f_number, found.focal_mm) == (None, None, None)
    assert (found.iso, found.taken_at, found.lens) == (None, None, None)


@pytest.mark.parametrize("count", [1006641184, 0xFFFFFFFF, 60000])
def test_crafted_maker_note_ends_quickly(count):
    """A count of a thousand million bytes in 40 (limit E08); the child may take 20 s and 1 GB."""
    data = jpeg_with([RationalTag(EXPOSURE, (30, 1)), AsciiTag(MAKER_NOTE, "x" * 40)])
    at = data.index(struct.pack("<HHI", MAKER_NOTE, 2, 41))
    crafted = data[:at] + struct.pack("<HHI", MAKER_NOTE, 7, count) + data[at + 8 :]
    code = (
        "import sys; from pathlib import Path; from nightglass.frame.open import open_frame\n"
        "frame = open_frame(sys.stdin.buffer.read())\n"
        # Its own peak: ru_maxrss begins with that of the process that started it.
        "status = Path('/proc/self/status').read_text().split()\n"
        "print(frame.samples.shape, status[status.index('VmHWM:') + 1])"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], input=crafted, capture_output=True, timeout=20, check=True
    )
    assert done.stdout.startswith(b"(32, 48)")
    assert int(done.stdout.split()[-1]) < 1e6


@pytest.mark.parametrize("seed", range(12))
def test_damaged_exif_is_unknown_metadata_never_an_error(seed):
    """Random bytes inside the Exif block: the picture still opens (limit E08)."""
    generator = np.random.default_rng(seed)
    data = bytearray(
        jpeg_with(
            [RationalTag(EXPOSURE, (30, 1)), AsciiTag(LENS, "Wren 12 mm f/2"), LongTag(ISO, 9)]
        )
    )
    begin = data.index(b"Exif\0\0") + 6
    end = 4 + int.from_bytes(data[begin - 8 : begin - 6], "big")
    assert begin + 70 < end < len(data)
    for place in generator.integers(begin, end, 12):
        data[place] = generator.integers(0, 256)
    assert open_frame(bytes(data)).samples.shape == (32, 48)


def test_many_threads_start_reading_at_once(tmp_path):
    """16 threads in a fresh process, files with XMP: start-up happens once (limit E09)."""
    data = jpeg_with([RationalTag(EXPOSURE, (30, 1))])
    packet = (
        b'<x:xmpmeta xmlns:x="adobe:ns:meta/"><rdf:RDF '
        b'xmlns:rdf="http://www.w3.org/1999/02/22-rdf-syntax-ns#"><rdf:Description '
        b'xmlns:own="http://ns.example/own/1.0/" own:word="x"/></rdf:RDF></x:xmpmeta>'
    )
    block = b"http://ns.adobe.com/xap/1.0/\0" + packet
    marked = data[:2] + b"\xff\xe1" + struct.pack(">H", len(block) + 2) + block + data[2:]
    path = tmp_path / "xmp.jpg"
    path.write_bytes(marked)
    code = (
        "import sys; from concurrent.futures import ThreadPoolExecutor\n"
        "from nightglass.frame.open import open_frame\n"
        "with ThreadPoolExecutor(16) as pool:\n"
        "    found = list(pool.map(open_frame, [sys.argv[1]] * 200))\n"
        "print({f.metadata.exposure_true_s for f in found})"
    )
    for _ in range(3):
        done = subprocess.run(
            [sys.executable, "-c", code, str(path)], capture_output=True, timeout=60, check=True
        )
        assert done.stdout.strip() == b"{32.0}"


def test_child_forked_while_metadata_are_read_gets_a_fresh_lock():
    """The lock of a parent's thread must not hold the child for ever."""
    import nightglass.frame.metadata as module

    held = module._lock
    with held:
        module._fresh_lock()
        assert module._lock is not held
        done = threading.Event()
        thread = threading.Thread(target=lambda: (metadata_of(), done.set()))
        thread.start()
        assert done.wait(10)
        thread.join()


def test_zone_data_ship_with_the_package():
    """E11: the package names tzdata among what it needs."""
    from importlib.metadata import requires

    assert any(line.startswith("tzdata") for line in requires("nightglass") or [])


WRITTEN = Metadata(exposure_marked_s=13.0, exposure_true_s=12.7, f_number=2.8, focal_mm=14.0)


@pytest.mark.parametrize("longer_by", [0, 40])
def test_metadata_behind_the_picture_are_read_by_name_as_from_bytes(make_dng, patch_tag, longer_by):
    """By name a plain file is read around its picture; what lies behind it must still be seen.

    A picture that claims to be longer than its samples would cover the Exif block behind it.
    """
    samples = np.random.default_rng(4).integers(500, 900, (700, 932)).astype(np.uint16)
    path = make_dng(samples, metadata=WRITTEN)
    patch_tag(path, 279, samples.nbytes + longer_by)
    by_name, from_bytes = open_frame(path), open_frame(path.read_bytes())
    assert by_name.metadata == from_bytes.metadata
    assert by_name.metadata.f_number == 2.8
    assert by_name.metadata.exposure_marked_s == 13.0
    assert by_name.content_hash == from_bytes.content_hash
    np.testing.assert_array_equal(by_name.samples, samples)


def test_only_the_part_that_is_named_is_left_out_and_all_is_hashed(tmp_path):
    data = np.random.default_rng(5).integers(1, 256, 1_900_033).astype(np.uint8)
    path = tmp_path / "any.bin"
    path.write_bytes(data.tobytes())
    with opened(path) as source:
        kept = np.frombuffer(source.around((300_001, 1_500_777)), dtype=np.uint8)
        digest = source.content_hash
    outside = np.r_[0:300_001, 1_500_777 : data.size]
    np.testing.assert_array_equal(kept[outside], data[outside])
    # Whole pieces in the middle are not kept: that is what saves the memory.
    assert np.count_nonzero(kept == 0) > 500_000
    assert digest == hashlib.blake2b(data.tobytes(), digest_size=20).hexdigest()
