"""What the columns of a frame mean: units and meanings for ``frame.attrs``.

Comes in: the name of a written table, or of a sheet. Goes out: two fixed dictionaries by column.
The words are those of the column dictionary (`cohort.terms.written`) and of the sheets
(`cohort.terms.contract`). Never: a value.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from functools import cache, partial
from typing import Final

from cohort.base.frames import Attributes, Fixed
from cohort.terms.contract import SHEETS
from cohort.terms.written import WRITTEN
from cohort.terms.written.shape import Cell, flag, number, text, whole

_DAY: Final = "days since day 0"
INTERVALS: Final = (
    whole("code", "Row of the founding in `foundings`"),
    number("after", "Counted look at which it begins", _DAY),
    number("by", "Counted look at which it ends", _DAY),
    whole("at_risk", "Queens at risk, after any were taken out", "queens"),
    whole("alive", "Living queens at the look that ends it", "queens"),
    whole("lost", "Queens lost in it", "queens"),
)
RAW: Final = (
    text("genus", "Genus or kind; `all` first"),
    text("arm", "`single` or `multi`"),
    whole("foundings", "Foundings compared", "foundings"),
    whole("queens", "Their queens on day 0", "queens"),
    whole("queens_lost_before", "Queens lost before the first worker was seen", "queens"),
    whole("queens_lost_after", "Queens lost after that", "queens"),
    whole("with_workers", "Foundings with workers", "foundings"),
    whole("colonies", "Of those followed: foundings with workers and a living queen", "foundings"),
    whole("followed", "Foundings followed to the last day, or lost", "foundings"),
    number("share", "Colonies by foundings followed; blank where none was", "share"),
    number("low", "Lower end of its range", "share"),
    number("high", "Upper end of its range", "share"),
    whole("day", "Last day that is compared", _DAY),
)
SURVIVAL: Final = (
    text("event", "What is waited for"),
    number("lower", "Last day on which it had not happened", _DAY),
    number("upper", "First day on which it had; inf: not seen", _DAY),
    number("entry", "Day on which the founding was first followed", _DAY),
    flag("seen", "Whether it was seen"),
    number("day", "The look that showed it, else the last day without it", _DAY),
    whole("ended_by", "1: it was seen; 2: all queens were lost first; 0: neither"),
    number("ended", "Day of whichever it was, else `day`", _DAY),
    text("group", "`single` or `multi`"),
    flag("multi", "Whether it started with several queens"),
)
HEADLINE_DRAWS: Final = (
    text("genus", "Genus or kind, `average` or `new`"),
    whole("queens", "Queens of the group", "queens"),
    whole("day", "Last day of the kind that may be spoken of", _DAY),
    text("source", "`posterior` or `prior`"),
    whole("draw", "Which draw, from 0; the same of all kinds"),
    number("value", "Chance of a colony from the same queens, together less singly", "-1 to 1"),
)
_OF_STUDY: Final = (
    text("founding", "Its number"),
    flag("named", "Whether the genus is known; if not, `genus` is the keeper's own word"),
    text("season", "Season of its flight, else of its start, as the study names seasons"),
    text("from_", "Founding it was parted from"),
    flag("at_least", "Whether `queens_alive` is a least number"),
    flag("workers_at_least", "Whether `workers` is a least number"),
    flag("from_rest", "Whether the row stood for all foundings not named that day"),
    text("file", "Sheet in which the row stands"),
    whole("row", "Row of that sheet"),
    text("why", "Why the founding was left out"),
)


def _attributes(cells: Iterable[tuple[str, str, str]]) -> Attributes:
    told = tuple(cells)
    return {
        "units": Fixed({name: unit for name, unit, _ in told if unit}),
        "meanings": Fixed({name: meaning for name, _, meaning in told}),
    }


def _of(cells: Iterable[Cell]) -> list[tuple[str, str, str]]:
    return [(cell.name, cell.unit, cell.meaning) for cell in cells]


_OWN: Final[Mapping[str, tuple[Cell, ...]]] = {
    "draws": HEADLINE_DRAWS,
    "intervals": INTERVALS,
    "raw": RAW,
    "survival": (*SURVIVAL, *WRITTEN["foundings"].cells),
}


@cache
def attributes(name: str) -> Attributes:
    """``units`` and ``meanings`` by column.

    Parameters
    ----------
    name : str
        A table of `WRITTEN`, ``sheet:`` and the name of a sheet, or ``draws``, ``intervals``,
        ``raw``, ``survival``.
    """
    head, _, sheet = name.partition("sheet:")
    if sheet and not head:
        columns = SHEETS[sheet].columns if sheet in SHEETS else ()
        return _attributes([*_of(_OF_STUDY), *((c.name, c.unit, c.meaning) for c in columns)])
    return _attributes(_of(_OWN[name] if name in _OWN else WRITTEN[name].cells))


def described(name: str) -> Callable[[], Attributes]:
    """A function that gives `attributes`, for `cohort.base.frames.hands_out_copies`."""
    return partial(attributes, name)
