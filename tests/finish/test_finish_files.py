"""Files of all kinds: bits, profiles, JPEG, raw frames, bad input; what two exports differ in."""

import imagecodecs
import numpy as np
import pytest
import rawpy
import tifffile
from finished_skies import encoded, sky_light
from PIL import Image

from nightglass.finish.audit import audit, reference_of
from nightglass.finish.codes import DifferenceCode as D
from nightglass.finish.codes import FindingCode as F
from nightglass.finish.codes import NoteCode, ProfileSource
from nightglass.finish.exports import export_pairs
from nightglass.finish.picture import filled_in, read_picture
from nightglass.finish.profiles import profile_name, profile_of, to_light
from nightglass.frame.errors import FrameError
from nightglass.frame.open import open_frame
from nightglass.scene.dng import write_dng

pytestmark = pytest.mark.slow

RGGB = np.array([[0, 1], [1, 2]], dtype=np.uint8)


def codes(found):
    return {finding.code for finding in found.findings}


def in_space(light, space):
    whole = np.rint(65535 * np.clip(light, 0, 1)).astype(np.uint16)
    return imagecodecs.cms_transform(
        whole, profile_of("linear sRGB"), profile_of(space), colorspace="rgb", outcolorspace="rgb"
    ) / 65535  # fmt: skip


def save_jpeg(path, light, **options):
    whole = np.rint(255 * encoded(light)).astype(np.uint8)
    Image.fromarray(whole).save(path, icc_profile=profile_of("sRGB"), **options)
    return str(path)


def test_srgb_is_decoded_as_the_standard_says():
    # IEC 61966-2-1: 0.5 is 0.21404 of white, 0.04 lies on the straight part.
    values = np.full((2, 2, 3), 0.5, dtype=np.float32)
    values[0] = 0.04
    light = to_light(values, profile_of("sRGB"))
    assert light[1, 0] == pytest.approx([0.21404] * 3, abs=2e-4)
    assert light[0, 0] == pytest.approx([0.04 / 12.92] * 3, abs=2e-5)


def test_colours_of_a_wider_space_keep_what_lies_outside():
    # Pure green of BT.2020 in BT.709's primaries, from the chromaticities of ITU-R BT.709-6 and
    # BT.2020-2; Report ITU-R BT.2407, as programs quote its matrix, has -0.5876, 1.1329, -0.1006.
    def to_xyz(*xy):
        columns = np.array([(x / y, 1, (1 - x - y) / y) for x, y in xy]).T
        white = np.array([0.3127 / 0.3290, 1, (1 - 0.3127 - 0.3290) / 0.3290])
        return columns * np.linalg.solve(columns, white)

    bt709 = to_xyz((0.64, 0.33), (0.30, 0.60), (0.15, 0.06))
    bt2020 = to_xyz((0.708, 0.292), (0.170, 0.797), (0.131, 0.046))
    derived = np.linalg.solve(bt709, bt2020[:, 1])
    assert derived == pytest.approx([-0.5876, 1.1329, -0.1006], abs=1e-4)
    green = np.zeros((1, 1, 3), dtype=np.float32)
    green[..., 1] = 1
    found = to_light(green, profile_of("BT.2020"))[0, 0]
    assert found == pytest.approx(derived, abs=0.005)


@pytest.mark.parametrize("space", ["sRGB", "P3-D65", "ROMM RGB"])
def test_a_right_profile_changes_nothing_and_a_missing_one_is_named(audited, light, space):
    values = in_space(light, space)
    right = audited("right", values, space)
    assert codes(right) == set()
    assert right.facts.profile_from is ProfileSource.EMBEDDED
    wrong = audited("wrong", values, None)
    assert wrong.facts.profile_from is ProfileSource.ASSUMED
    assert NoteCode.NO_PROFILE in wrong.notes
    if space == "sRGB":
        assert codes(wrong) == set()
        return
    finding = next(f for f in wrong.findings if f.code is F.WRONG_PROFILE)
    assert finding.values["space"] == space


def test_a_wrong_profile_is_named(audited, light):
    found = audited("wrong-tag", in_space(light, "sRGB"), "ROMM RGB")
    finding = next(f for f in found.findings if f.code is F.WRONG_PROFILE)
    assert finding.values["space"] == "sRGB"


def test_damaged_profiles_count_as_none(tmp_path, light):
    path = tmp_path / "damaged.tif"
    whole = np.rint(65535 * encoded(light)).astype(np.uint16)
    tifffile.imwrite(path, whole, photometric="rgb", iccprofile=b"no profile at all" * 20)
    picture = read_picture(str(path))
    assert NoteCode.NO_PROFILE in picture.notes
    assert picture.facts.profile == "sRGB"
    assert profile_name(b"") is None


def test_blocks_of_a_jpeg_show_and_stay_after_another_save(reference, tmp_path, light):
    path = save_jpeg(tmp_path / "a.jpg", light, quality=60, subsampling=2)
    found = audit(reference, read_picture(path))
    assert F.JPEG_BLOCKS in codes(found)
    assert found.facts.subsampling == "4:2:0"
    assert found.facts.bits == 8
    Image.open(path).save(tmp_path / "b.png")
    again = audit(reference, read_picture(str(tmp_path / "b.png")))
    assert F.JPEG_BLOCKS in codes(again)
    assert again.facts.kind == "PNG"


def test_eight_bits_alone_are_no_finding(reference, tmp_path, light):
    Image.fromarray(np.rint(255 * encoded(light)).astype(np.uint8)).save(
        tmp_path / "8.png", icc_profile=profile_of("sRGB")
    )
    assert codes(audit(reference, read_picture(str(tmp_path / "8.png")))) == set()


def test_a_jpeg_named_like_a_raw_file_is_refused(tmp_path, light):
    path = tmp_path / "frame.dng"
    save_jpeg(path, light, quality=95, subsampling=0, format="JPEG")
    with pytest.raises(FrameError, match="a JPEG under the name of a raw file"):
        read_picture(str(path))


def test_a_text_is_refused_in_one_line(tmp_path):
    path = tmp_path / "words.jpg"
    path.write_text("no picture")
    with pytest.raises(FrameError, match=r"words\.jpg: .*; "):
        read_picture(str(path))


@pytest.fixture(scope="module")
def raw_file(tmp_path_factory):
    """A raw frame of a sky of photons: white balance of the camera 0.55, 1, 0.7."""
    light = sky_light(seed=21, stars=420, size=(500, 760), noise=0.0, sigma=1.3)
    y, x = np.mgrid[0:500, 0:760]
    colour = RGGB[y % 2, x % 2]
    seen = np.take_along_axis(light * np.array([0.55, 1, 0.7]), colour[..., None].astype(int), 2)
    counts = 12000 * seen[..., 0]
    counts = np.random.default_rng(3).normal(counts, np.sqrt(counts + 20)) + 512
    path = tmp_path_factory.mktemp("raw") / "frame.dng"
    samples = np.clip(np.rint(counts), 0, 15000).astype(np.uint16)
    write_dng(path, samples, white_level=15000, pattern=RGGB, black=512)
    return str(path)


def developed(raw_file, **options):
    """By LibRaw: its demosaicing, white balance and colours, no smoothing, curve of sRGB."""
    with rawpy.imread(raw_file) as raw:
        return raw.postprocess(
            output_bps=16, no_auto_bright=True, bright=2.0, user_wb=[1 / 0.55, 1, 1 / 0.7, 1],
            gamma=(2.4, 12.92), output_color=rawpy.ColorSpace.sRGB, user_flip=0, **options,
        ) / 65535  # fmt: skip


@pytest.mark.parametrize("way", ["AHD", "VNG"])
def test_a_plain_development_of_a_raw_frame_has_no_findings(raw_file, save_tiff, way):
    first = reference_of(read_picture(raw_file))
    assert first.picture.is_raw
    values = developed(raw_file, demosaic_algorithm=rawpy.DemosaicAlgorithm[way])
    found = audit(first, read_picture(save_tiff("plain", values)))
    assert codes(found) <= {F.SHADOWS_CLIPPED}
    assert NoteCode.RAW_REFERENCE in found.notes
    assert found.placement(np.array([0j]))[0] == pytest.approx(0, abs=0.1)
    assert found.star_shift is None


def test_smoothing_shows_against_a_raw_frame(raw_file, save_tiff):
    from skimage.restoration import denoise_bilateral

    first = reference_of(read_picture(raw_file))
    smooth = denoise_bilateral(
        developed(raw_file), sigma_color=0.03, sigma_spatial=2, channel_axis=-1
    )
    found = audit(first, read_picture(save_tiff("smooth", smooth)))
    assert codes(found) >= {F.STARS_LOST, F.GRAIN_SMOOTHED, F.COLOUR_SMOOTHED}


def test_colours_are_filled_in_between_samples_as_straight_lines(raw_file):
    frame = open_frame(raw_file)
    light = filled_in(frame)
    span = 15000 - 512
    own = (frame.samples[10, 20] - 512.0) / span
    assert light[10, 20, 0] == pytest.approx(own, rel=1e-5)
    green = [(9, 20), (11, 20), (10, 19), (10, 21)]
    mean = np.mean([frame.samples[i, j] - 512.0 for i, j in green]) / span
    assert light[10, 20, 1] == pytest.approx(mean, rel=1e-5)
    blue = [(9, 19), (9, 21), (11, 19), (11, 21)]
    mean = np.mean([frame.samples[i, j] - 512.0 for i, j in blue]) / span
    assert light[10, 20, 2] == pytest.approx(mean, rel=1e-5)


def test_differences_of_exports_are_told(reference, tmp_path, save_tiff, light):
    paths = [
        save_tiff("first", encoded(light)),
        save_jpeg(tmp_path / "second.jpg", light, quality=85, subsampling=2),
        save_tiff("third", encoded(1.5 * light[20:400, 30:600]), None),
    ]
    Image.fromarray(np.rint(255 * encoded(light)).astype(np.uint8)).save(tmp_path / "4.png")
    audits = [audit(reference, read_picture(path)) for path in paths]
    second, third = export_pairs(audits)
    assert {d.code for d in second.differences} >= {D.KIND, D.BITS}
    found = {d.code: d.values for d in third.differences}
    assert set(found) == {D.SIZE, D.PROFILE_MISSING, D.CROP, D.BRIGHTNESS}
    assert found[D.SIZE] == {"one": "630 x 420", "other": "570 x 380"}
    assert found[D.BRIGHTNESS]["stops"] == pytest.approx(np.log2(1.5), abs=0.02)
    assert found[D.CROP]["ratio"] == pytest.approx(570 * 380 / (630 * 420), abs=0.002)


def test_the_same_file_and_the_same_pixels_are_told(reference, tmp_path, light):
    whole = np.rint(65535 * encoded(light)).astype(np.uint16)
    for name, options in (("a", {}), ("b", {}), ("c", {"compression": "zlib"})):
        tifffile.imwrite(
            tmp_path / f"{name}.tif", whole, photometric="rgb", iccprofile=profile_of("sRGB"),
            **options,
        )  # fmt: skip
    audits = [audit(reference, read_picture(str(tmp_path / f"{n}.tif"))) for n in "abc"]
    same, packed = export_pairs(audits)
    assert [d.code for d in same.differences] == [D.SAME_FILE]
    assert [d.code for d in packed.differences] == [D.SAME_PIXELS]


def test_steps_and_subsampling_of_two_jpegs_are_told(reference, tmp_path, light):
    one = save_jpeg(tmp_path / "one.jpg", light, quality=95, subsampling=0)
    two = save_jpeg(tmp_path / "two.jpg", light, quality=70, subsampling=2)
    audits = [audit(reference, read_picture(path)) for path in (one, two)]
    found = {d.code: d.values for d in export_pairs(audits)[0].differences}
    assert found[D.SUBSAMPLING] == {"one": "4:4:4", "other": "4:2:0"}
    # ITU-T T.81, annex K: the table's mean is 57.6 at quality 50; a step at 95 is a tenth of it.
    assert found[D.QUANTISATION]["one"] < found[D.QUANTISATION]["other"] / 4
    assert D.GRAIN in found
