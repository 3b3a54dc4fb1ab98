"""Places of the rates that one founding lives by, and so of the gradient in them.

Comes in: nothing. Goes out: numbers of places in a flat array, shared by `study` (which fills it),
`founding` and `winter`. The gradient has the derivative in each rate at the same place. Never: a
computation.
"""

from __future__ import annotations

from typing import Final

from cohort.likelihood.layout import N1, N2

# hazards by piece first, in the order in which `layout` keeps the days of a path
R_COMPANY1: Final = 0
R_LONE1: Final = R_COMPANY1 + N1
R_COMPANY2: Final = R_LONE1 + N1
R_LONE2: Final = R_COMPANY2 + N2
HAZARDS: Final = R_LONE2 + N2
"""Number of hazards: both phases, in company and alone; in the order of the days in `layout`."""
R_RHO1: Final = HAZARDS
R_RHO2: Final = R_RHO1 + 1
R_LAST_FIGHT: Final = R_RHO2 + 1
R_LOG_DAY: Final = R_LAST_FIGHT + 1
R_WITHIN_DAYS: Final = R_LOG_DAY + 1
R_FERTILE: Final = R_WITHIN_DAYS + 1
R_THRESHOLD: Final = R_FERTILE + 1
R_WINTER1: Final = R_THRESHOLD + 1  # hazard in company in winter rest, before workers
R_WINTER2: Final = R_WINTER1 + 1  # and with workers
R_RHO_WINTER: Final = R_WINTER2 + 1
GRADIENT: Final = R_RHO_WINTER + 1
R_ROOM: Final = GRADIENT
ROOM: Final = 1024
"""Numbers behind the rates that `winter` reckons with: a function that borrows its arrays can make
none. A chain of so many stages of so many queens must find room there, see `room_for`."""
RATES: Final = R_ROOM + ROOM


def room_for(stages: int, queens: int) -> bool:
    """Whether an interval of so many stages and queens finds room."""
    return (stages + 3) * (queens + 1) <= ROOM
