import numpy as np
import pytest
import tifffile
from finished_skies import encoded, sky_light

from nightglass.finish.audit import audit, reference_of
from nightglass.finish.picture import read_picture
from nightglass.finish.profiles import profile_of


@pytest.fixture(scope="session")
def light():
    return sky_light()


@pytest.fixture(scope="session")
def save_tiff(tmp_path_factory):
    """Save values from 0 to 1 as a TIFF of 16 bits; return its path."""
    folder = tmp_path_factory.mktemp("finish")

    def save(name, values, space="sRGB"):
        path = folder / f"{name}.tif"
        whole = np.rint(65535 * np.clip(values, 0, 1)).astype(np.uint16)
        profile = {} if space is None else {"iccprofile": profile_of(space)}
        tifffile.imwrite(path, whole, photometric="rgb", **profile)
        return str(path)

    return save


@pytest.fixture(scope="session")
def reference(light, save_tiff):
    return reference_of(read_picture(save_tiff("reference", encoded(light))))


@pytest.fixture(scope="session")
def audited(reference, save_tiff):
    """Hold encoded values against the reference."""

    def hold(name, values, space="sRGB"):
        return audit(reference, read_picture(save_tiff(name, values, space)))

    return hold
