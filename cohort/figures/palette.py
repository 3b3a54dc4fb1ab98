"""Colours of the pictures.

Blue and orange of different lightness tell the two ways of founding apart, also without red or
green sight and in grey print; the neutral tones carry everything else. A colour is never the only
sign: lines differ in dash, marks in shape. `DARK` gives the same roles on dark paper.
Never reads data.
"""

from __future__ import annotations

INK = "#20242a"
QUIET = "#5f6670"
RULE = "#d5d9de"
PAPER = "#ffffff"
SINGLE = "#1f4e8c"
MULTI = "#d5740a"
MULTI_WORD = "#9a5200"
"""The same way of founding in words: orange letters are too pale to read."""
SINGLE_SOFT = "#b9cbe4"
MULTI_SOFT = "#f8dcb4"
NONE_LEFT = "#3d4149"
ONE_LEFT = "#7fa3cf"
SEVERAL_LEFT = "#f6c683"
AWAY = "#868d97"

WAY = {"single": SINGLE, "multi": MULTI}
WAY_WORD = {"single": SINGLE, "multi": MULTI_WORD}
WAY_SOFT = {"single": SINGLE_SOFT, "multi": MULTI_SOFT}
DASH = {"single": "-", "multi": (0, (4, 1.4))}

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
    NONE_LEFT: "#c9ced6",
    ONE_LEFT: "#335685",
    SEVERAL_LEFT: "#7c4f1a",
    AWAY: "#808893",
}
"""Colour on light paper -> colour on dark paper."""
