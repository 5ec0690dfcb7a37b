"""Settings as a person names them."""

import pytest

from nightglass.gear.asked_setting import asked_settings
from nightglass.gear.lens import Lens, LensSetting

LENSES = (
    Lens("Wren 12 mm f/2", 12, 12, 2.0, 2.0),
    Lens("Curlew 17-45 mm f/2.5-4.5", 17, 45, 2.5, 4.5),
    Lens("Heron at sea 20 mm", 20, 20, 1.8, 1.8),
    Lens("Dipper 11-18 mm f/3.2", 11, 18, 3.2, 3.2),
)


def setting(lens, focal, n):
    return LensSetting("Body", lens.name, float(focal), n)


WREN, CURLEW, HERON, _ = LENSES
MEASURED = (
    setting(WREN, 12, 2.0), setting(WREN, 12, 2.8), setting(CURLEW, 17, 2.5),
    setting(CURLEW, 24, 2.8), setting(CURLEW, 24, 4.0), setting(HERON, 20, 1.8),
)  # fmt: skip


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("wren", MEASURED[:2]),
        ("Wren 12 mm f/2", MEASURED[:2]),
        ("Wren 12 mm f/2 at f/2.8", MEASURED[1:2]),
        ("curlew at 24 mm", MEASURED[3:5]),
        ("curlew at 24mm f/4", MEASURED[4:5]),
        ("curlew at f/2.5", MEASURED[2:3]),
        ("wren at f 2.83", MEASURED[1:2]),
        ("heron at sea", MEASURED[5:]),
        ("  heron at sea 20 mm AT F/1.8 ", MEASURED[5:]),
    ],
)
def test_words_find_their_settings(text, found):
    assert asked_settings(text, LENSES, MEASURED) == tuple(sorted(found))


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("curlew at 35 mm", r'"curlew at 35 mm" was not measured; of Curlew .* 17 mm f/2.5, 24 mm'),
        ("dipper", "Dipper 11-18 mm f/3.2 was not measured; nightglass measure reads its frames"),
        ("osprey", r'^"osprey" is not in the bag; choose one of: Wren 12 mm f/2, Curlew'),
        ("mm", r'^"mm" fits several lenses; choose one of: Wren 12 mm f/2'),
    ],
)
def test_words_that_fit_nothing_say_what_there_is(text, words):
    with pytest.raises(ValueError, match=words):
        asked_settings(text, LENSES, MEASURED)
