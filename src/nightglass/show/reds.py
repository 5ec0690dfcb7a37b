"""The reds of everything that is read in the dark: cards and check lists."""

from __future__ import annotations

DIGIT_RED = 186
WORD_RED = 214
LINE_RED = 104
"""Pure reds out of 255: thin letters are a little brighter than the thick digits. On black they
have contrast 3.1 and 3.9 (WCAG 2.2, 1.4.3 asks 3 for large letters); lines carry no words."""
