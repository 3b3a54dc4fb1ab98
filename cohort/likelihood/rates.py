"""Places of the rates that one founding lives by, and of the gradient in them.

Comes in: nothing. Goes out: numbers of places in two flat arrays, shared by `study` (which fills
the one and reads the other), `founding` and `winter`. Never: a computation.
"""

from __future__ import annotations

from typing import Final

from cohort.likelihood.layout import N1, N2

# gradient of one founding: log hazards of both phases by piece, then the rest
D1: Final = 0
D_TOGETHER: Final = D1 + N1
D2: Final = D_TOGETHER + 1
D_RIVALRY: Final = D2 + N2
D_LAST_FIGHT: Final = D_RIVALRY + 1
D_LOG_DAY: Final = D_LAST_FIGHT + 1
D_WITHIN_DAYS: Final = D_LOG_DAY + 1
D_FERTILE: Final = D_WITHIN_DAYS + 1
D_THRESHOLD: Final = D_FERTILE + 1
D_WINTER1: Final = D_THRESHOLD + 1  # log hazard of a lone queen in winter rest, before workers
D_WINTER2: Final = D_WINTER1 + 1  # and with workers
D_WINTER_COMPANY: Final = D_WINTER2 + 1
GRADIENT: Final = D_WINTER_COMPANY + 1

# rates of one founding, one flat array
R_COMPANY1: Final = 0
R_LONE1: Final = R_COMPANY1 + N1
R_COMPANY2: Final = R_LONE1 + N1
R_LONE2: Final = R_COMPANY2 + N2
R_RHO1: Final = R_LONE2 + N2
R_RHO2: Final = R_RHO1 + 1
R_LAST_FIGHT: Final = R_RHO2 + 1
R_LOG_DAY: Final = R_LAST_FIGHT + 1
R_WITHIN_DAYS: Final = R_LOG_DAY + 1
R_FERTILE: Final = R_WITHIN_DAYS + 1
R_THRESHOLD: Final = R_FERTILE + 1
R_WINTER1: Final = R_THRESHOLD + 1  # hazard in company in winter rest, before workers
R_WINTER2: Final = R_WINTER1 + 1  # and with workers
R_RHO_WINTER: Final = R_WINTER2 + 1
R_ROOM: Final = R_RHO_WINTER + 1
ROOM: Final = 1024
"""Numbers behind the rates that `winter` reckons with: a function that borrows its arrays can make
none. A chain of so many stages of so many queens must find room there, see `room_for`."""
RATES: Final = R_ROOM + ROOM


def room_for(stages: int, queens: int) -> bool:
    """Whether an interval of so many stages and queens finds room."""
    return (stages + 3) * (queens + 1) <= ROOM
