"""Every word, unit, allowed value and column of the sheets, once.

What comes in: nothing. What goes out: `SHEETS` and `SETTINGS` (the contract), the fixed words,
the genera, the questions and their quantities. Nothing here reads a file or checks a study.
"""

from cohort.terms.columns import Column, Sheet
from cohort.terms.contract import CONTRACT_VERSION, SETTINGS, SHEET_NAMES, SHEETS
from cohort.terms.genera import GENERA, Genus, cautions, needs_host
from cohort.terms.near import did_you_mean, nearest
from cohort.terms.questions import QUANTITIES, QUESTIONS, Quantity

__all__ = [
    "CONTRACT_VERSION",
    "GENERA",
    "QUANTITIES",
    "QUESTIONS",
    "SETTINGS",
    "SHEETS",
    "SHEET_NAMES",
    "Column",
    "Genus",
    "Quantity",
    "Sheet",
    "cautions",
    "did_you_mean",
    "nearest",
    "needs_host",
]
