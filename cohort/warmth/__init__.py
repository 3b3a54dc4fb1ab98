"""Warmth: degree-days, shelf logs, and the clock on which a logged founding's brood runs.

Comes in: readings and the shelf log of a `Study`. Goes out: degree-days by shelf and day, the mean
warmth of each founding, `WarmClock`. Never: a model, a date on which something is due.
"""

from cohort.warmth.clock import WarmClock, Warmth, thresholds
from cohort.warmth.shelves import (
    COLUMN,
    centred,
    coverage,
    degree_days,
    shelf_temperature,
    usable_rows,
)
from cohort.warmth.thermal import (
    LOG_DAYS_PER_DEGREE,
    ThermalConstant,
    averaging,
    single_sine,
)

__all__ = [
    "COLUMN",
    "LOG_DAYS_PER_DEGREE",
    "ThermalConstant",
    "WarmClock",
    "Warmth",
    "averaging",
    "centred",
    "coverage",
    "degree_days",
    "shelf_temperature",
    "single_sine",
    "thresholds",
    "usable_rows",
]
