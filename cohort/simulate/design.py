"""How a simulated season is laid out.

In: numbers. Out: a frozen :class:`Design`. Never: a fate, a random number.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass, field

from cohort.simulate.warm import Shelves

__all__ = ["CALENDARS", "Design"]

#: Ways of looking: each founding every n days; one shelf day for all of a keeper's foundings,
#: written with `rest` rows; or at gaps of 2 to 2n - 2 days.
CALENDARS = ("every", "shelf", "irregular")


@dataclass(frozen=True)
class Design:
    """How a simulated season is laid out.

    Parameters
    ----------
    foundings : int
        Foundings begun (those lost before a delayed entry never come to be known).
    sizes : tuple of int
        Queens per founding; each block of the allotment holds every size once.
    keepers : int
        Keepers, coded K1, K2, ...
    look_every : int
        Days between looks.
    calendar : str
        ``every``, ``shelf`` or ``irregular``.
    horizon : int
        Days each founding is followed.
    first_flight : datetime.date
        Day of the first flight.
    flights, flight_span : int
        Number of flights, and days over which they are spread.
    delayed : float
        Share (0..1) of foundings followed only from a day between 20 and 90.
    removals : float
        Share of groups from which one queen is given away on a look between day 10 and 100.
    seen : float
        Share of queens seen mating.
    blank : float
        Share of looks at which the workers were not looked for (`workers` blank).
    winter : datetime.date, optional
        Day on which everything goes into the cold; looks end there, or pause up to `spring`.
    spring : datetime.date, optional
        Day on which everything is put to the warm again. Foundings are then followed through
        winter, up to the horizon.
    shelves : Shelves, optional
        Shelves with temperatures, read every day; each founding stands on one at random, and
        its first workers come by the warmth they had. By default temperature plays no part.
    covariates : mapping of str to tuple
        Columns of the sheet of foundings, and the values (numbers or words) that are given out by
        lot, each as often: ``{"housing": ("test-tube", "box")}``. What they move is said by
        `cohort.simulate.truth.Truth.slopes`.
    title : str
        Title of the study.

    Raises
    ------
    ValueError
        If a number or share makes no sense.
    """

    foundings: int = 64
    sizes: tuple[int, ...] = (1, 3)
    keepers: int = 4
    look_every: int = 7
    calendar: str = "every"
    horizon: int = 180
    first_flight: dt.date = dt.date(2025, 5, 10)
    flights: int = 8
    flight_span: int = 60
    delayed: float = 0.0
    removals: float = 0.0
    seen: float = 0.0
    blank: float = 0.0
    winter: dt.date | None = None
    spring: dt.date | None = None
    shelves: Shelves | None = None
    covariates: Mapping[str, tuple[str, ...] | tuple[float, ...]] = field(default_factory=dict)
    title: str = "A simulated season"

    def __post_init__(self) -> None:
        """Refuse a season that cannot be."""
        for name in ("foundings", "keepers", "look_every", "horizon", "flights"):
            if getattr(self, name) < 1:
                raise ValueError(f"{name} must be at least 1: {getattr(self, name)}")
        if self.spring is not None and (self.winter is None or self.spring <= self.winter):
            raise ValueError(f"spring must be a day after winter: {self.spring}")
        for name in ("delayed", "removals", "seen", "blank"):
            if not 0.0 <= getattr(self, name) <= 1.0:
                raise ValueError(f"{name} is a share and must lie in 0..1: {getattr(self, name)}")
        if not self.sizes or min(self.sizes) < 1 or len(set(self.sizes)) != len(self.sizes):
            raise ValueError(f"sizes must be different whole numbers from 1 up: {self.sizes}")
        if self.calendar not in CALENDARS:
            raise ValueError(f"calendar must be one of {', '.join(CALENDARS)}: {self.calendar}")
