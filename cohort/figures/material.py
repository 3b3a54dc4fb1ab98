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

import pandas as pd

from cohort.base.frames import held
from cohort.nonparametric.counts import headline_size
from cohort.nonparametric.followed import WAYS, compared, fair_day, kind_days
from cohort.results.headline_draws import held_or_read
from cohort.results.verdict_rows import HEADLINE, Spoken, Verdicts, kinds_with_a_verdict, said_of
from cohort.terms.questions import AVERAGE, NEW, NEXT_SEASON, headline_reading

if TYPE_CHECKING:
    from cohort.history import History
    from cohort.results import Results
    from cohort.study import Study


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
    def kinds(self) -> tuple[Kind, ...]:
        """Kinds of the comparison, most foundings first, then by name."""
        return kinds_in_order(self.history.foundings)

    @cached_property
    def size(self) -> int:
        """Commonest size of a group."""
        return headline_size(self.history.foundings)

    @cached_property
    def last_days(self) -> dict[str, int]:
        """Last day that may be spoken of, by kind; of `AVERAGE` that of the study."""
        foundings, horizon = self.history.foundings, self.history.horizon
        return kind_days(foundings, horizon) | {AVERAGE: fair_day(foundings, horizon)}

    @cached_property
    def verdicts(self) -> Verdicts:
        """What may be said of each contrast."""
        return said_of(self.results.verdicts)

    @cached_property
    def contrasts(self) -> pd.DataFrame:
        """Draws of the headline contrast; without a row if none are kept.

        See `cohort.results.headline_draws`. Of a comparison in memory, else of the folder in
        which the results lie.
        """
        return held_or_read(self.results.contrasts, self.results.folder)

    @cached_property
    def places(self) -> dict[tuple[str, str, str, int, str], list[int]]:
        """Where the rows of a quantity, genus, arm, size and reading stand in the comparisons."""
        table = held(self.results, "comparisons")
        names = (table[name] for name in ("quantity", "genus", "arm", "queens", "reading"))
        out: dict[tuple[str, str, str, int, str], list[int]] = {}
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


def kinds_to_name(material: Material) -> tuple[Kind, ...]:
    """Kinds that may be spoken of by name, in printing order: those that have a verdict.

    The only kind of a study is all there is to speak of, whatever its verdict.
    """
    said = set(kinds_with_a_verdict(material.verdicts, material.size))
    kinds = material.kinds
    return kinds if len(kinds) == 1 else tuple(k for k in kinds if k.genus in said)


def rows_to_show(material: Material) -> list[tuple[str, bool]]:
    """Genus and `named` of each row of a picture: kinds to name, all together, one not tried."""
    rows = [(kind.genus, kind.named) for kind in kinds_to_name(material)]
    return rows if len(material.kinds) == 1 else [*rows, (AVERAGE, False), (NEW, False)]


def verdict_of(material: Material, genus: str, contrast: str = HEADLINE) -> Spoken | None:
    """What may be said of a contrast at the commonest group size; None where nothing is known.

    Parameters
    ----------
    material : Material
    genus : str
        The only kind of a study is spoken of as all its kinds together.
    contrast : str
    """
    alone = [kind.genus for kind in material.kinds] == [genus]
    return material.verdicts.get((contrast, AVERAGE if alone else genus, material.size))


def days_to_speak_of(material: Material, quantity: str, genus: str = AVERAGE) -> list[int]:
    """Days of a quantity that may be spoken of, ascending; the last is the day to speak of.

    Parameters
    ----------
    material : Material
    quantity : str
        As in the comparisons, of days since day 0.
    genus : str
        A kind: days within its own fair day. ``average``, ``new``, ``next_season``: within the
        study's.
    """
    table = held(material.results, "comparisons")
    days = table.loc[table["quantity"] == quantity, "day"].dropna().astype(int).unique()
    last = material.last_days.get(AVERAGE if genus in (NEW, NEXT_SEASON) else genus, 0)
    return sorted(int(day) for day in days if day <= last)


def rows_of(
    material: Material,
    quantity: str,
    genus: str,
    arm: str,
    queens: int,
    reading: str | None = None,
) -> list[pd.Series]:
    """Rows of the comparisons, one per day.

    Parameters
    ----------
    material : Material
    quantity, genus, arm : str
    queens : int
    reading : str, optional
        What is called a colony, see `cohort.terms.questions.READINGS`; left out, the reading in
        which the quantity is spoken of.
    """
    said = headline_reading(quantity) if reading is None else reading
    places = material.places.get((quantity, genus, arm, queens, said), [])
    table = held(material.results, "comparisons")
    return [table.iloc[at] for at in places]


def row_of(
    material: Material,
    quantity: str,
    genus: str,
    arm: str,
    queens: int,
    day: int,
    reading: str | None = None,
) -> pd.Series | None:
    """One row of the comparisons, or None when it was not worked out; see `rows_of`."""
    every = rows_of(material, quantity, genus, arm, queens, reading)
    return next((row for row in every if not pd.isna(row["day"]) and row["day"] == day), None)


def row_to_show(
    material: Material, quantity: str, genus: str, arm: str, queens: int
) -> pd.Series | None:
    """Row of a kind's own last day; None where its number is carried over from others."""
    days = days_to_speak_of(material, quantity, genus)
    row = row_of(material, quantity, genus, arm, queens, days[-1]) if days else None
    return None if row is None or flag(row["carried_over"]) else row


def flag(value: object) -> bool:
    """True for a set flag; rows that bear none hold a blank, which is no yes."""
    return str(value) in ("True", "true", "1", "1.0")
