"""A reference and pictures by their paths, from files to findings."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from nightglass.finish.audit import audit, reference_of
from nightglass.finish.exports import export_pairs
from nightglass.finish.picture import read_picture
from nightglass.finish.records import Finish
from nightglass.frame.errors import FrameError


def finished(
    reference: str,
    pictures: Sequence[str],
    unread: Callable[[FrameError], None],
    started: Callable[[str], None] = lambda path: None,
) -> Finish:
    """Hold pictures against a reference, one after another.

    unread: takes the error of a picture that can't be read; the others go on. started: is told
    each path before its turn. Raises FrameError for a reference that can't be read, ValueError
    for one too small to hold stars.
    """
    started(reference)
    first = reference_of(read_picture(reference))
    audits = []
    for path in pictures:
        started(path)
        try:
            audits.append(audit(first, read_picture(path)))
        except FrameError as error:
            unread(error)
    picture = first.picture
    pairs = export_pairs(audits) if len(audits) > 1 else ()
    return Finish(picture.facts, picture.notes, len(first.stars), tuple(audits), pairs)
