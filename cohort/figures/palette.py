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
MULTI = "#e08214"
SINGLE_SOFT = "#b9cbe4"
MULTI_SOFT = "#f8dcb4"
NONE_LEFT = "#3d4149"
ONE_LEFT = "#7fa3cf"
SEVERAL_LEFT = "#f6c683"
AWAY = "#9aa1aa"

WAY = {"single": SINGLE, "multi": MULTI}
WAY_SOFT = {"single": SINGLE_SOFT, "multi": MULTI_SOFT}
DASH = {"single": "-", "multi": (0, (4, 1.4))}

DARK = {
    INK: "#e8eaed",
    QUIET: "#a9b0ba",
    RULE: "#434a54",
    PAPER: "#16191d",
    SINGLE: "#7fb2f0",
    MULTI: "#f2a444",
    SINGLE_SOFT: "#2c4566",
    MULTI_SOFT: "#5d421d",
    NONE_LEFT: "#c9ced6",
    ONE_LEFT: "#4a75ab",
    SEVERAL_LEFT: "#a8702a",
    AWAY: "#737b86",
}
"""Colour on light paper -> colour on dark paper."""
