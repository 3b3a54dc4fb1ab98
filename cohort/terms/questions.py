"""The questions of a study and the quantities that answer them.

What comes in: nothing. What goes out: `QUESTIONS` and `QUANTITIES`: for each quantity its unit,
the direction that is better and how near two ways of founding must be to count as practically
equal. Nothing is computed here.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Final, Literal

Better = Literal["higher", "lower", "none"]

QUESTIONS: Mapping[str, str] = MappingProxyType(
    {
        "queen_survival": "Do queens live longer alone or together?",
        "first_worker": "When does the first worker come, and how often?",
        "queens_after_workers": "How many queens are left once workers are there?",
        "colony": "Does it pay: how many colonies from the same queens?",
        "first_brood": "How large is the first brood?",
    }
)

AVERAGE: Final = "average"
"""All kinds of the study together, in the column ``genus`` of ``comparisons.csv``."""
NEW: Final = "new"
"""A kind nobody has tried yet, in the same column."""
NEXT_SEASON: Final = "next_season"
"""All kinds of the study together in a season not yet seen, in the same column: wider than
`AVERAGE`, which speaks of the season behind the numbers."""
OTHERS: Final = "other kinds"
"""The kinds with the fewest foundings as one, where a study has very many; in the same column."""
PRIOR_SHARE: Final = 0.9
"""Posterior SD over prior SD from which the prior still rules."""

SEEN: Final = "seen"
ALIKE: Final = "alike"
MATED_FIRST: Final = "mated-first"
READINGS: Final = (SEEN, ALIKE, MATED_FIRST)
"""What may be called a colony, in the column ``reading`` of ``comparisons.csv``.

Nobody sees whether a living queen is mated. With workers and a living queen there is a colony as
`SEEN`; it has a mated queen for sure only if the unmated die first. `ALIKE`: mated and unmated die
alike. `MATED_FIRST`: every mated queen dies before any unmated one. A single founding with workers
has a mated queen, so there all three are the same."""

# Practically equal: within these of each other (ratios: between 0.9 and 1.11).
EQUAL_CHANCE = 0.05
EQUAL_DAYS = 3.0
EQUAL_PER_QUEEN = 0.05
EQUAL_RATIO = (0.9, 1.11)


@dataclass(frozen=True)
class Quantity:
    """One printed quantity.

    Parameters
    ----------
    question, name : str
        As in ``comparisons.csv``.
    unit : str
        ``chance``, ``share``, ``days``, ``queens``, ``workers``, ``colonies``,
        ``colonies per queen`` or ``ratio``.
    plain : str
        What it is, in a keeper's words.
    better : {"higher", "lower", "none"}
        ``none``: the quantity has no contrast.
    equal_low, equal_high : float
        Difference (or ratio) of multi against single inside which both are practically equal;
        nan for quantities without such a band.
    days : tuple of int
        Days at which it is given; -1 stands for the horizon; empty: it has no day.
    drawn : bool
        Answered by the draws of the founding model; False: its rows are made apart.
    readings : tuple of str
        Those of `READINGS` in which it is given, the one that is spoken of first; empty where
        nothing hangs on what is called a colony.
    """

    question: str
    name: str
    unit: str
    plain: str
    better: Better
    equal_low: float = float("nan")
    equal_high: float = float("nan")
    days: tuple[int, ...] = ()
    drawn: bool = True
    readings: tuple[str, ...] = ()

    @property
    def headline(self) -> str:
        """Reading that is spoken of; blank where it is given in none."""
        return self.readings[0] if self.readings else ""


HORIZON = -1


def _quantity(
    question: str,
    name: str,
    unit: str,
    plain: str,
    better: Better,
    *days: int,
    drawn: bool = True,
    readings: tuple[str, ...] = (),
) -> Quantity:
    band = {
        "chance": EQUAL_CHANCE,
        "share": EQUAL_CHANCE,
        "days": EQUAL_DAYS,
        "colonies per queen": EQUAL_PER_QUEEN,
    }.get(unit)
    low, high = (-band, band) if band is not None else (float("nan"), float("nan"))
    if unit == "ratio":
        low, high = EQUAL_RATIO
    if better == "none":
        low, high = float("nan"), float("nan")
    return Quantity(question, name, unit, plain, better, low, high, days, drawn, readings)


_ALIVE = (30, 60, 90, HORIZON)
_WORKER = (30, 45, 60, 90, HORIZON)
_AFTER = (30, 60, 90)
_COLONY = (60, 90, HORIZON)

_ROWS = (
    _quantity(
        "queen_survival",
        "share_alive_before_workers",
        "share",
        "share of queens alive, counted until the first worker",
        "higher",
        *_ALIVE,
    ),
    _quantity("queen_survival", "share_alive", "share", "share of queens alive", "higher", *_ALIVE),
    _quantity(
        "queen_survival",
        "queen_days",
        "days",
        "days lived by a queen up to the agreed day",
        "higher",
        HORIZON,
    ),
    _quantity(
        "queen_survival",
        "hazard_ratio",
        "ratio",
        "daily risk of a queen in company against a queen alone, before workers",
        "lower",
    ),
    _quantity(
        "first_worker",
        "chance_by_day",
        "chance",
        "chance of a worker by that day",
        "higher",
        *_WORKER,
    ),
    _quantity(
        "first_worker",
        "median_day",
        "days",
        "day by which half of those that get workers have one",
        "lower",
    ),
    _quantity(
        "first_worker",
        "time_ratio",
        "ratio",
        "days to the first worker, together against singly",
        "lower",
    ),
    _quantity(
        "first_worker",
        "fertile_share",
        "share",
        "share of foundings able to have workers this season",
        "none",
    ),
    _quantity(
        "queens_after_workers",
        "chance_one_left",
        "chance",
        "chance that one queen is left",
        "none",
        *_AFTER,
    ),
    _quantity(
        "queens_after_workers",
        "chance_none_left",
        "chance",
        "chance that no queen is left",
        "none",
        *_AFTER,
    ),
    _quantity(
        "queens_after_workers",
        "chance_several_left",
        "chance",
        "chance that several queens are left",
        "none",
        *_AFTER,
    ),
    _quantity(
        "queens_after_workers", "expected_left", "queens", "queens left on average", "none", *_AFTER
    ),
    _quantity(
        "queens_after_workers",
        "rivalry_ratio",
        "ratio",
        "daily risk of a queen in company against a queen alone, with workers",
        "none",
    ),
    _quantity(
        "queens_after_workers",
        "last_fight_takes_both",
        "chance",
        "chance that the loss of one of the last two queens takes both",
        "none",
    ),
    _quantity(
        "colony",
        "chance_per_founding",
        "chance",
        "chance of at least one living queen and workers",
        "higher",
        *_COLONY,
        readings=(SEEN,),
    ),
    _quantity(
        "colony",
        "chance_lasting",
        "chance",
        "chance of workers and a living mated queen",
        "higher",
        *_COLONY,
        readings=(ALIKE, MATED_FIRST),
    ),
    _quantity(
        "colony",
        "colonies_per_queen",
        "colonies per queen",
        "colonies for each queen at the start",
        "higher",
        *_COLONY,
        readings=READINGS,
    ),
    _quantity(
        "colony",
        "at_least_one_from_same_queens",
        "chance",
        "chance of at least one colony from as many queens kept singly",
        "higher",
        *_COLONY,
        readings=READINGS,
    ),
    _quantity(
        "colony",
        "colonies_from_same_queens",
        "colonies",
        "colonies from as many queens kept singly",
        "higher",
        *_COLONY,
        readings=READINGS,
    ),
    _quantity(
        "colony",
        "same_queens_any",
        "chance",
        "the same queens together less singly: at least one colony",
        "higher",
        *_COLONY,
        readings=READINGS,
    ),
    _quantity(
        "colony",
        "same_queens_count",
        "colonies",
        "the same queens together less singly: number of colonies",
        "higher",
        *_COLONY,
        readings=READINGS,
    ),
    _quantity(
        "first_brood",
        "workers_after_30_days",
        "workers",
        "workers about 30 days after the first",
        "higher",
        drawn=False,
    ),
)

QUANTITIES: Mapping[tuple[str, str], Quantity] = MappingProxyType(
    {(quantity.question, quantity.name): quantity for quantity in _ROWS}
)
_HEADLINES: Final = {quantity.name: quantity.headline for quantity in _ROWS}


def headline_reading(name: str) -> str:
    """Reading in which a quantity is spoken of; blank where it is given in none.

    Parameters
    ----------
    name : str
        As in ``comparisons.csv``.
    """
    return _HEADLINES.get(name, "")
