"""The two demos of one club: its first season, and two of its keepers with a third one year on.

In: the club of :mod:`cohort.simulate.club`.
Out: `FIRST`, the season of ``data/demo``, and `SECOND`, ``data/demo-second-year``: the foundings of
two keepers through their first winter up to the second summer, and what they founded in it.
Never: a chance. A founding of the first season has the fate in `SECOND` that it has in `FIRST`, so
that up to the last day of the first season both say the same, row by row.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from cohort.simulate.club import CATCHES, HAPPENINGS, HUT, KEEPERS, SETTINGS, Catch, Happening

__all__ = ["FIRST", "SECOND", "Year"]


@dataclass(frozen=True)
class Year:
    """What a demo tells of.

    Parameters
    ----------
    keepers : tuple of str
        Whose sheets it holds.
    seasons : tuple of tuple of Catch
        What all keepers caught, season by season, in order; the place gives the number.
    happenings : tuple of Happening
    all_looked_at : tuple of datetime.date
        Days on which every founding is looked at, ascending; the last one ends the sheets.
    settings : str
        Text of ``study.toml``.
    temperatures : bool
        Whether the shelves have temperatures.
    """

    keepers: tuple[str, ...]
    seasons: tuple[tuple[Catch, ...], ...]
    happenings: tuple[Happening, ...]
    all_looked_at: tuple[dt.date, ...]
    settings: str
    temperatures: bool

    @property
    def catches(self) -> tuple[Catch, ...]:
        """Catches of all seasons."""
        return tuple(catch for season in self.seasons for catch in season)

    @property
    def last_day(self) -> dt.date:
        """The last look of all."""
        return self.all_looked_at[-1]


FIRST = Year(KEEPERS, (CATCHES,), HAPPENINGS, (dt.date(2026, 3, 31),), SETTINGS, True)

# fmt: off
_CAUGHT = (
    Catch("K1", "2026-05-09", "Messor", (3, 1, 1), "hand", "quarry floor", "a few", "released"),
    Catch("K5", "2026-05-10", "Messor", (1, 3), "hand", "vineyard edge"),
    Catch("K2", "2026-05-24", "Camponotus", (1, 3), "light", HUT, "3", "released"),
    Catch("K1", "2026-06-02", "Tetramorium", (1, 3, 3, 1), "hand", "railway bank", "about 30",
          "released"),
    Catch("K1", "2026-06-20", "Formica", (1, 2), "hand", "quarry rim"),
    Catch("K2", "2026-06-30", "Temnothorax", (3, 1), "hand", "oak slope", wait=2),
    Catch("K1", "2026-07-07", "Lasius", (1, 3), "hand", "market street", "many", "released"),
    Catch("K5", "2026-07-08", "Lasius", (3, 1, 3, 1), "hand", "allotment gardens"),
)
# fmt: on


def _but(settings: str, **other: str) -> str:
    """Lines of a study.toml, some with another value as TOML has it."""
    lines = (line.partition(" = ") for line in settings.splitlines())
    return "".join(f"{name} = {other.get(name, value)}\n" for name, _, value in lines)


_SETTINGS = (
    _but(
        SETTINGS,
        title='"Old Quarry Ant Circle: two seasons of founding"',
        season='"2025, 2026"',
        horizon_days="360",
        ends="2026-08-31",
    )
    + "through_winter = true\n"
)

SECOND = Year(
    ("K1", "K2", "K5"),
    (CATCHES, _CAUGHT),
    (
        *HAPPENINGS,
        Happening("K1-02", "moved", 340, 0, "", "outgrew the tube"),
        Happening("K2-22", "mould", 30, 0, "", "at the cotton"),
    ),
    (*FIRST.all_looked_at, dt.date(2026, 8, 31)),
    _SETTINGS,
    False,
)
