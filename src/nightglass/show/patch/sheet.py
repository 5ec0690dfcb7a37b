"""The patch side by side as phone, screen and print show it, and the blind sheet, as files."""

from __future__ import annotations

import io
from collections.abc import Iterator, Sequence
from datetime import date
from pathlib import Path
from typing import Any

from PIL import Image

from nightglass.patch.look import BlindPair, Looked
from nightglass.patch.viewed import BLACK, SAMPLES_PER_EYE, WHITE, ViewedPatch
from nightglass.show.patch.words import answers, looked_sentences, made_sentence, place_sentence
from nightglass.show.ranking.look_words import NAMES
from nightglass.show.ranking.pair_text import pair_name
from nightglass.show.typeset import typeset
from nightglass.show.whole_file import write_whole
from nightglass.verdict.view.eye import Eye

POINTS_PER_SAMPLE = 0.75
PX_PER_POINT = 2
MADE = date(2000, 1, 1)
"""Inside the PDF, so that the same sheet gives the same bytes."""
CURVE = (
    f"Light from {BLACK:g} to {WHITE:g} times the sky's is drawn from black to white by the curve "
    "of sRGB, the same for both. Nothing is sharpened or coloured."
)
LIFE = (
    f"Drawn with {SAMPLES_PER_EYE:g} samples per width of the eye's blur: larger than life. On a "
    "monitor of a quarter of a millimetre a sample, from 2.6 m away, it is as small as it would be."
)


def write_look(found: Looked, folder: Path) -> Path:
    """Write look.png into a folder, which is made if it is missing. Raises OSError."""
    names = (pair_name(found.pair, found.pair.one), pair_name(found.pair, found.pair.other))
    rows = [
        {
            "title": f"As a viewer of a {name} sees it",
            "views": [
                {**_view(view), "name": text} for view, text in zip(views, names, strict=True)
            ],
        }
        for name, views in zip(NAMES, found.views, strict=True)
    ]
    data = {
        "kind": "sheet",
        "title": f"{names[0]} and {names[1]}",
        "about": [*looked_sentences(found), place_sentence(found), CURVE, LIFE],
        "points_per_sample": POINTS_PER_SAMPLE,
        "rows": rows,
        "answers_title": "",
        "answers": [],
    }
    folder.mkdir(parents=True, exist_ok=True)
    return write_whole(folder / "look.png", typeset("look.typ", data, "png", MADE, PX_PER_POINT)[0])


def write_blind(found: Looked, eye: Eye, rows: Sequence[BlindPair], folder: Path) -> Path:
    """Write blind.pdf into a folder: pairs in random order, the answers on the last page."""
    names = (pair_name(found.pair, found.pair.one), pair_name(found.pair, found.pair.other))
    data = {
        "kind": "blind",
        "title": "Which is which?",
        "about": [
            f"{len(rows)} pairs: one picture of each is by {names[0]}, the other by {names[1]}, in "
            "random order.",
            *([] if found.wish.same is None else [made_sentence(found)]),
            f"The same stars, other noise in each pair, as a viewer sees it: {eye.words}.",
            "Write down for each pair which one you would rather hang on the wall. Then turn to "
            "the last page.",
        ],
        "points_per_sample": POINTS_PER_SAMPLE,
        "rows": [{"views": [_view(row.left), _view(row.right)]} for row in rows],
        "answers_title": "Answers",
        "answers": list(answers(found, rows)),
    }
    folder.mkdir(parents=True, exist_ok=True)
    return write_whole(folder / "blind.pdf", typeset("look.typ", data, "pdf", MADE)[0])


def write_all(found: Looked, eye: Eye, rows: Sequence[BlindPair], folder: Path) -> Iterator[Path]:
    """Write both sheets; yield each file as it is done."""
    yield write_look(found, folder)
    yield write_blind(found, eye, rows, folder)


def _view(view: ViewedPatch) -> dict[str, Any]:
    packed = io.BytesIO()
    Image.fromarray(view.grey).save(packed, format="PNG")
    return {"png": list(packed.getvalue()), "side": view.grey.shape[0]}
