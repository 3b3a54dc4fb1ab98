"""Colours of the pictures, each with one meaning.

* Blue and orange are the two ways of founding; their pale tones are the same ways, before workers
  or as a band. Nothing else is blue or orange.
* Green and purple are fates of queens and groups: green lives, purple is lost.
* Mid grey is what stands outside: left out, taken out, no longer followed.
* Pale grey and black carry axes, words, and what is known before a sheet was read.

Neighbours differ in lightness by 15 (CIE L*) or more, so that grey print shows them, and are told
apart by every eye (`tests/figures/test_palette.py` works it out). A colour is never the only sign:
marks differ in shape, lines in dash, squares in strokes. `DARK` gives the same roles on dark paper.
Never reads data.
"""

from __future__ import annotations

INK = "#20242a"
QUIET = "#5f6670"
RULE = "#d5d9de"
PAPER = "#ffffff"

SINGLE = "#1d4a86"
MULTI = "#d9780c"
MULTI_WORD = "#9a5200"
"""The same way of founding in words: orange letters are too pale to read."""
SINGLE_SOFT = "#b9cbe4"
MULTI_SOFT = "#f8dcb4"

COLONY = "#4f7302"
"""Lives in a colony; one queen left."""
SEVERAL_LEFT = "#93b43c"
WAITING = "#dcebac"
"""Lives, no workers yet."""
LOST_LATE = "#b180c9"
"""Lost once workers were there; no queen left."""
LOST_EARLY = "#471a63"
"""Lost before workers."""

LEFT_OUT = "#676b72"

WAY = {"single": SINGLE, "multi": MULTI}
WAY_WORD = {"single": SINGLE, "multi": MULTI_WORD}
WAY_SOFT = {"single": SINGLE_SOFT, "multi": MULTI_SOFT}
DASH = {"single": "-", "multi": (0, (4, 1.4))}
MARK = {"single": "o", "multi": "D"}
SIGN = {"single": "●", "multi": "◆"}

DARK = {
    INK: "#e8eaed",
    QUIET: "#a9b0ba",
    RULE: "#434a54",
    PAPER: "#16191d",
    SINGLE: "#7fb2f0",
    MULTI: "#f2a444",
    MULTI_WORD: "#f2a445",
    SINGLE_SOFT: "#2c4566",
    MULTI_SOFT: "#5d421d",
    COLONY: "#b4d64a",
    SEVERAL_LEFT: "#55701a",
    WAITING: "#2f3c0b",
    LOST_LATE: "#7d4b98",
    LOST_EARLY: "#e0bdf2",
    LEFT_OUT: "#8d939c",
}
"""Colour on light paper -> colour on dark paper."""
