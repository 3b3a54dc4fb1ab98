"""A printed table, and what every maker of one needs.

In comes text, or a step curve; out comes a frozen `Table`, or the curve on wanted days. Never looks
at results.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from cohort.newsletter.speech import Voice


@dataclass(frozen=True)
class Table:
    """Printed table.

    Parameters
    ----------
    head : tuple of str
        Headings.
    rows : tuple of tuple of str
        Cells; the first of each row is its name.
    title : str
        Caption.
    """

    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    title: str = ""


def heads(voice: Voice, *keys: str) -> tuple[str, ...]:
    """Headings of columns."""
    return tuple(voice.say(f"t_{key}") for key in keys)


def at_days(part: pd.DataFrame, wanted: NDArray[np.float64]) -> pd.DataFrame:
    """Rows of a step curve as they stand on the wanted days."""
    ordered = part.sort_values("day").reset_index(drop=True)
    at = np.searchsorted(ordered["day"].to_numpy(float), wanted, side="right") - 1
    return ordered.iloc[np.clip(at, 0, None)].assign(day=wanted)
