"""What a page and its pictures are made from, and the few questions all of them ask of it.

In comes results, history and study; out come small answers: the last day on which both ways of
founding may be compared, the kinds in printing order, the commonest size of a group.
Never estimates anything and never changes a frame it was given.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from cohort.counts import LATE

if TYPE_CHECKING:
    from cohort.history import History
    from cohort.results import Results
    from cohort.study import Study

WAYS = ("single", "multi")
ENOUGH = 8
"""Foundings of each way that must have been followed to a day before that day is spoken of."""


class NotDrawn(Exception):
    """Raised when a picture has no data; the message says what is missing."""


@dataclass(frozen=True)
class Material:
    """Everything a page may speak of.

    Parameters
    ----------
    results : Results
        Frozen results of the comparison.
    history : History
        One row per founding, one per interval between counted looks.
    study : Study
        The sheets as read.
    """

    results: Results
    history: History
    study: Study

    @property
    def settled(self) -> bool:
        """True when the comparison passed its gate."""
        return bool(self.results.diagnosis.get("settled", False))

    @cached_property
    def places(self) -> dict[tuple[str, str, str, int], list[int]]:
        """Where the rows of a quantity, genus, arm and size stand in the comparisons."""
        table = self.results.comparisons
        names = (table[name] for name in ("quantity", "genus", "arm", "queens"))
        out: dict[tuple[str, str, str, int], list[int]] = {}
        for at, key in enumerate(zip(*names, strict=True)):
            out.setdefault(key, []).append(at)
        return out


@dataclass(frozen=True)
class Kind:
    """A kind of ant as it is printed.

    Parameters
    ----------
    genus : str
        Label in the frames: a genus, a keeper's own word, `average`, `new` or `all`.
    named : bool
        True when the label is a scientific name and is set in italics.
    foundings : int
        Compared foundings of this kind.
    """

    genus: str
    named: bool
    foundings: int


def each(frame: pd.DataFrame) -> Iterator[Any]:
    """Rows of a frame by name (`row.genus`); the stubs type each cell as anything at all."""
    yield from frame.itertuples()


def compared(foundings: pd.DataFrame) -> pd.DataFrame:
    """Rows of the history that stand inside the comparison."""
    return foundings[foundings["compared"].astype(bool)]


def known_to(foundings: pd.DataFrame, horizon: int) -> pd.Series:
    """Day to which the fate of each founding is known.

    A founding whose follow-up was cut at the horizon was looked at beyond it, and a look in the
    last week before the horizon counts as the horizon (weekly looks; the same rule as in the raw
    table). A founding that lost all its queens needs no more looks: it is known as far as its
    keeper's record goes, in the calendar, so that early losses alone never make a day look well
    followed. Any other is known to its last counted look.
    """
    end = foundings["end"].astype(float)
    whole = (foundings["end_kind"] == "horizon") | (end >= horizon - LATE)
    lost = np.isfinite(foundings["lost_by"].astype(float))
    start = (foundings["started"] - pd.Timestamp("2000-01-01")).dt.days.astype(float)
    record = (start + end).groupby(foundings["keeper"].astype(str)).transform("max") - start
    longest = pd.Series(np.maximum(end, record), index=end.index)
    known = end.where(~lost, longest).clip(upper=float(horizon))
    return known.where(~whole, float(horizon))


def fair_day(
    foundings: pd.DataFrame, horizon: int, ways: tuple[str, ...] = WAYS, enough: int = ENOUGH
) -> int:
    """Last day to which at least `enough` foundings of each way were followed; 0: none.

    Parameters
    ----------
    foundings : pandas.DataFrame
        History, one row per founding.
    horizon : int
        Day agreed at the start, days.
    ways : tuple of str
        Ways of founding that must be there.
    enough : int
        Foundings needed of each.
    """
    inside = compared(foundings)
    last = float(horizon)
    for way in ways:
        days = known_to(inside[inside["arm"] == way], horizon).sort_values(ascending=False)
        if len(days) < enough:
            return 0
        last = min(last, float(days.iloc[enough - 1]))
    return int(last)


def kinds_in_order(foundings: pd.DataFrame) -> tuple[Kind, ...]:
    """Kinds of the comparison, most foundings first, then by name."""
    inside = compared(foundings)
    if inside.empty:
        return ()
    table = inside.groupby("genus", sort=True).agg(
        named=("named", "first"), foundings=("founding", "size")
    )
    table = table.sort_values(["foundings"], ascending=False, kind="stable")
    return tuple(Kind(str(row.Index), bool(row.named), int(row.foundings)) for row in each(table))


def both_ways(foundings: pd.DataFrame) -> bool:
    """True when the study has foundings of both ways inside the comparison."""
    return set(WAYS) <= set(compared(foundings)["arm"])


def days_to_speak_of(material: Material, quantity: str) -> list[int]:
    """Days of a quantity that lie within the fair day, ascending."""
    table = material.results.comparisons
    days = table.loc[table["quantity"] == quantity, "day"].dropna().astype(int).unique()
    last = fair_day(material.history.foundings, material.history.horizon)
    return sorted(int(day) for day in days if day <= last)


def rows_of(
    material: Material, quantity: str, genus: str, arm: str, queens: int
) -> list[pd.Series]:
    """Rows of the comparisons, one per day."""
    places = material.places.get((quantity, genus, arm, queens), [])
    return [material.results.comparisons.iloc[at] for at in places]


def row_of(
    material: Material, quantity: str, genus: str, arm: str, queens: int, day: int
) -> pd.Series | None:
    """One row of the comparisons, or None when it was not worked out."""
    every = rows_of(material, quantity, genus, arm, queens)
    return next((row for row in every if not pd.isna(row["day"]) and row["day"] == day), None)
