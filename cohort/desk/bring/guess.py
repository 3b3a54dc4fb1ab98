"""What a heading of somebody's own table is taken for, and why.

What comes in: headings and the cells below them. What goes out: one `Taken` per heading. It is a
proposal that the keeper corrects; a heading whose cells do not fit is taken for nothing.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType

from cohort.audit import cells as cell
from cohort.desk.bring import headings
from cohort.desk.bring.counted import counted
from cohort.desk.bring.grid import Grid
from cohort.desk.bring.wide import OF_A_DAY, DayHeading
from cohort.desk.sentences import tell
from cohort.terms.genera import spelled, split_name
from cohort.terms.near import nearest

FIELDS = MappingProxyType(
    {
        "founding": "number or name of the container",
        "kind": "own word for the kind",
        "genus": "genus, or genus and species in one cell",
        "species": "species",
        "started": "day 0: the last queen of the group went in",
        "flight_date": "day of the flight or catch",
        "queens": "queens at the start",
        "keeper": "who keeps it",
        "housing": "container",
        "feeding": "feeding before the first workers",
        "note": "anything else",
        "eggs": "day on which eggs were first seen",
        "larvae": "day on which larvae were first seen",
        "pupae": "day on which pupae were first seen",
        "first_worker": "day on which a worker was first seen",
        "all_dead": "day on which all queens were found dead",
        "last_look": "day of the last look",
        "status": "alive or dead at the last look",
        "queens_left": "queens alive at the last look",
        "workers": "workers at the last look",
        "look": "what was seen on the day in the heading, as in check notes (may be used often)",
        "look_queens": "queens alive on the day in the heading (may be used often)",
        "look_workers": "workers on the day in the heading (may be used often)",
    }
)
"""What a heading can be taken for, and what that means."""

_DATES = (
    "started",
    "flight_date",
    "eggs",
    "larvae",
    "pupae",
    "first_worker",
    "all_dead",
    "last_look",
)
_COUNTS = ("queens", "queens_left", "workers")

# What people write above such columns: common practice, no source.
ALSO: dict[str, tuple[str, ...]] = {
    "founding": (
        "id",
        "no",
        "nr",
        "number",
        "colony",
        "name",
        "tube",
        "tube no",
        "container",
        "label",
        "colony id",
        "colony name",
        "colony number",
        "founding number",
    ),
    "genus": ("ant", "ants", "genus species", "taxon"),
    "species": ("species name",),
    "kind": ("type", "kind of ant", "sort"),
    "started": (
        "start",
        "start date",
        "date started",
        "set up",
        "setup date",
        "date set up",
        "founded",
        "founding date",
        "housed",
        "date housed",
        "day 0",
    ),
    "flight_date": (
        "flight",
        "nuptial flight",
        "flight day",
        "date of flight",
        "caught",
        "date caught",
        "catch date",
        "collected",
        "date collected",
        "found on",
    ),
    "queens": (
        "number of queens",
        "no of queens",
        "queen count",
        "queens at start",
        "queens start",
        "foundresses",
        "initial queens",
    ),
    "keeper": ("owner", "kept by", "member"),
    "housing": ("nest", "container type", "setup"),
    "feeding": ("food", "fed", "feeding before workers"),
    "note": ("notes", "comment", "comments", "remarks", "remark"),
    "eggs": ("first eggs", "first egg", "eggs seen", "eggs on", "egg date"),
    "larvae": ("first larvae", "first larva", "larvae seen", "larva date"),
    "pupae": ("first pupae", "first pupa", "pupae seen", "first cocoon", "cocoons"),
    "first_worker": (
        "first workers",
        "first worker date",
        "first nanitic",
        "first nanitics",
        "nanitics",
        "workers arrived",
        "workers seen",
        "first ant",
    ),
    "all_dead": (
        "died",
        "death",
        "dead",
        "date died",
        "died on",
        "date of death",
        "lost",
        "lost on",
        "queen died",
        "queens died",
        "failed on",
    ),
    "last_look": (
        "last check",
        "last checked",
        "last seen",
        "checked",
        "as of",
        "last update",
        "updated",
        "date of last check",
    ),
    "status": ("state", "outcome", "result", "alive", "fate"),
    "queens_left": (
        "queens alive",
        "queens now",
        "queens remaining",
        "surviving queens",
        "queens at last check",
    ),
    "workers": ("workers now", "worker count", "number of workers", "workers at last check"),
}
ALIVE = (
    *("alive", "living", "live", "ok", "fine", "healthy", "yes", "thriving", "going"),
    *headings.ALIVE,
)
"""Words under `status` that mean: at least one living queen."""
DEAD = (
    *("dead", "died", "lost", "failed", "no", "gone", "extinct", "failure", "†"),
    *headings.DEAD,
)
"""Words under `status` that mean: no living queen."""


@dataclass(frozen=True)
class Taken:
    """A heading, the field it was taken for (blank: not used), and why."""

    heading: str
    field: str
    why: str


def plain(heading: str) -> str:
    """Heading in small letters and digits only: ``# Queens (start)`` -> ``queens start``.

    Accents are taken off: ``Königinnen`` -> ``koniginnen``.
    """
    bare = unicodedata.normalize("NFKD", heading.lower().replace("œ", "oe").replace("ß", "ss"))
    without = "".join(sign for sign in bare if not unicodedata.combining(sign))
    return " ".join(re.findall(r"[a-z0-9]+", without))


_BY_WORDS: dict[str, str] = {
    **{plain(name.replace("_", " ")): name for name in FIELDS if name not in OF_A_DAY},
    **headings.headings(),
    **{word: name for name, others in ALSO.items() for word in others},
}


def guess(
    grid: Grid, date_order: str = "", days: Mapping[str, DayHeading] = MappingProxyType({})
) -> tuple[Taken, ...]:
    """What each heading is taken for.

    Parameters
    ----------
    grid : Grid
    date_order : {"", "dmy", "mdy", "ymd"}
        How text dates are to be read.
    days : mapping
        Headings that are a day, from `wide.day_headings`.

    Returns
    -------
    tuple of Taken
        One for each heading, in order; no field is taken twice.
    """
    out: list[Taken] = []
    used: set[str] = set()
    for heading in grid.headings:
        if heading in days:
            day = days[heading].day
            why = tell("why_day", day=day) if day else tell("why_days")
            out.append(Taken(heading, days[heading].field, why))
            continue
        taken = _one(heading, grid.column(heading), date_order)
        if taken.field in used and taken.field not in OF_A_DAY:
            taken = Taken(heading, "", tell("why_other", field=taken.field))
        if taken.field:
            used.add(taken.field)
        out.append(taken)
    return tuple(out)


def _one(heading: str, below: Sequence[str], date_order: str) -> Taken:
    words = plain(heading)
    why: str = tell("why_says")
    field = _BY_WORDS.get(words, "")
    if not field:
        near = nearest(words, _BY_WORDS, cutoff=0.84)
        field, why = (_BY_WORDS[near], tell("why_near", near=near)) if near else ("", "")
    filled = [text for text in below if text]
    if not field:
        return _by_cells(heading, filled)
    if not filled:
        return Taken(heading, field, tell("why_empty", why=why))
    if field in ("species", "kind", "note") and _genera(filled) >= 0.6:
        return _by_cells(heading, filled)
    if field == "status" and _share(filled, _is_date(date_order)) > 0.5:
        return Taken(heading, "", tell("why_state"))
    fits = _fits(field, date_order)
    if fits is not None and _share(filled, fits) < 0.6:
        named = {"field": field, "cell": filled[0][:20]}
        is_date = field in _DATES
        why = tell("why_no_dates", **named) if is_date else tell("why_no_counts", **named)
        return Taken(heading, "", why)
    return Taken(heading, field, why)


def _by_cells(heading: str, filled: Sequence[str]) -> Taken:
    if _genera(filled) >= 0.6:
        return Taken(heading, "genus", tell("why_genus"))
    return Taken(heading, "", tell("why_unknown"))


def _genera(filled: Sequence[str]) -> float:
    return _share(filled, lambda text: bool(spelled(split_name(text)[0])))


def _share(filled: Sequence[str], fits: Callable[[str], bool]) -> float:
    return sum(map(fits, filled)) / len(filled) if filled else 0.0


def _is_date(order: str) -> Callable[[str], bool]:
    def fits(text: str) -> bool:
        got = cell.date(text, order)
        return not isinstance(got, cell.Problem) or got.rule == "date-ambiguous"

    return fits


def _fits(field: str, order: str) -> Callable[[str], bool] | None:
    if field in _DATES:
        return _is_date(order)
    if field in _COUNTS:
        return lambda text: not isinstance(counted(text, field), cell.Problem)
    return None
