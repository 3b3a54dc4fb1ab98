"""How the season of the demo club went: foundings begun, looks taken, things that happened.

In: the scenario of :mod:`cohort.simulate.club`, and which demo of it is told.
Out: foundings with their rows, and the checks and events of each keeper.
Never: lets one founding's chance depend on another's: each draws from a generator of its own, so
that a change to one leaves the others as they were.
"""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

import numpy as np

from cohort.simulate.club import (
    KEEPERS,
    KINDS,
    SEED,
    SPOILT,
    TRUTHS,
    WINTER,
    Catch,
    Happening,
)
from cohort.simulate.club_years import FIRST, Year
from cohort.simulate.events import run
from cohort.simulate.fates import first_brood
from cohort.simulate.looks import workers_seen

__all__ = ["OWN_WORDS", "Founding", "Row", "begun", "season"]

#: Life in winter runs at this share of its usual pace.
SLOW = 0.2
#: Days between two looks of K1 at a colony in its second summer.
RARELY = 14
OWN_WORDS = {kind[0] for kind in KINDS}
LATER = {kind[0]: kind[1] or kind[0] for kind in KINDS}
SPECIES = {"Lasius": "niger", "Formica": "fusca"}
NOTES = (
    "calm",
    "water still clear",
    "walks about",
    "cotton a little grey",
    "looked in the evening",
)

Row = dict[str, str]


@dataclass
class Founding:
    """One founding while the demo is made: its row, and the truth of its fate."""

    row: Row
    what: str
    start: dt.date
    size: int
    rng: np.random.Generator
    year: Year = FIRST
    deaths: np.ndarray = field(default_factory=lambda: np.empty(0))
    first_worker: float = math.inf
    brood: int = 1
    happenings: tuple[Happening, ...] = ()
    looked: list[tuple[dt.date, Row]] = field(default_factory=list)
    closed: bool = False
    shift: int = 0  # queens put in less queens taken out so far
    left: int = 0  # queens in the container after the last look

    def __post_init__(self) -> None:
        self.left = self.size

    @property
    def id(self) -> str:
        """Number of the founding."""
        return self.row["founding"]

    @property
    def keeper(self) -> str:
        """Code of the keeper."""
        return self.row["keeper"]

    def lived(self, day: dt.date) -> float:
        """Days of life since day 0, winter counted at a fifth."""
        cold, warm = _winter(self.keeper)
        frozen = max(0, (min(day, warm) - max(cold, self.start)).days)
        return (day - self.start).days - (1 - SLOW) * frozen

    def alive(self, day: dt.date) -> int:
        """Queens a keeper would count on `day`."""
        return self.size + self.shift - int((self.deaths <= self.lived(day)).sum())

    def workers(self, day: dt.date) -> int:
        """Workers a keeper would count on `day`."""
        lived = np.array([[self.lived(day)]])
        return int(workers_seen(lived, np.array([self.first_worker]), np.array([self.brood]))[0, 0])


def _date(text: str, days: int = 0) -> dt.date:
    return dt.date.fromisoformat(text) + dt.timedelta(days=days)


def _winter(keeper: str) -> tuple[dt.date, dt.date]:
    """First and last day of a keeper's winter rest; long ago for one who joined after it."""
    cold, warm = WINTER.get(keeper, ("2000-01-01", "2000-01-02"))
    return dt.date.fromisoformat(cold), dt.date.fromisoformat(warm)


def _numbers(keepers: Iterable[str]) -> dict[str, Iterable[str]]:
    """Series of founding numbers of each keeper, spoilt ones left out."""

    def series(keeper: str) -> Iterable[str]:
        for i in range(1, 100):
            if (number := f"{keeper}-{i:02d}") not in SPOILT:
                yield number

    return {keeper: series(keeper) for keeper in keepers}


def _housing(what: str, keeper: str, size: int) -> str:
    if what == "Temnothorax":
        return "wood" if keeper == "K4" else "vial"
    if what == "Myrmica":
        return "plaster-nest"
    return "box" if keeper == "K3" and size > 3 else "test-tube"


def begun(year: Year = FIRST) -> list[Founding]:
    """All foundings begun from the catches, with rows as their keepers wrote them.

    Those of a second season take the numbers after those of the first.
    """
    numbers = {
        keeper: iter(series) for keeper, series in _numbers({*KEEPERS, *year.keepers}).items()
    }
    foundings: list[Founding] = []
    before = 0
    for catches in year.seasons:
        own: list[Founding] = []
        for i, catch in enumerate(catches, start=before + 1):
            for j, size in enumerate(catch.sizes):
                row = _founding_row(next(numbers[catch.keeper]), f"C{i:02d}", catch, size)
                row.update({column: value for n, column, value in catch.extra if n == j})
                if row["assigned"] != "random":
                    row["block"] = ""
                own.append(_fate(row, catch.what, size, year))
        parted = [(one, h) for one in own for h in one.happenings if h.other == "new"]
        own += [_parted(one, h, next(numbers[one.keeper])) for one, h in parted]
        foundings += own
        before += len(catches)
    return foundings


def _founding_row(number: str, catch_id: str, catch: Catch, size: int) -> Row:
    named = "" if catch.what in OWN_WORDS else catch.what
    bought = catch.method in ("bought", "given")
    return {
        "founding": number,
        "genus": named,
        "kind": catch.what if not named else "",
        "species": SPECIES.get(catch.what, ""),
        "started": _date(catch.date, catch.wait).isoformat(),
        "queens": str(size),
        "assigned": catch.assigned,
        "block": f"B{catch_id[1:]}" if catch.assigned == "random" else "",
        "keeper": catch.keeper,
        "catch": catch_id,
        "flight_date": "" if bought else catch.date,
        "housing": _housing(catch.what, catch.keeper, size),
        "feeding": "fed" if catch.what == "Myrmica" else "none",
        "shelf": {"K1": "S1", "K2": "S2"}.get(catch.keeper, ""),
    }


def _fate(row: Row, what: str, size: int, year: Year) -> Founding:
    """Draw what truly befalls a founding; one met late was alive when it was met."""
    number = int(row["founding"][1]) * 100 + int(row["founding"][3:])
    rng = np.random.default_rng([SEED, number])
    own = tuple(h for h in year.happenings if h.founding == row["founding"])
    truth, start = TRUTHS[LATER.get(what, what)], _date(row["started"])
    met = (_date(row.get("followed_from") or row["started"]) - start).days
    out = [h for h in own if h.what == "queens-out"]
    at = [float((_look_from(year, row["keeper"], start, h.day) - start).days) for h in out]
    while True:
        paths = run(
            1,
            size,
            truth,
            rng,
            400.0,
            seen=np.array([int(row.get("mating_seen") or 0)]),
            taken_at=np.array(at or [math.inf]),
            taken=np.array([h.number for h in out] or [0]),
        )
        if paths.deaths[0].max() > met and int(paths.taken[0]) == sum(h.number for h in out):
            break
    first = float(paths.first_worker[0])
    first = min([first, *(h.day + 14.0 for h in own if h.what == "brood-in")])
    first = {"boosted": 12.0, "social-parasite": math.inf}.get(row.get("left_out", ""), first)
    brood = int(first_brood(1, size, truth, rng)[0])
    return Founding(row, what, start, size, rng, year, paths.deaths[0], first, brood, own)


def _parted(parent: Founding, happening: Happening, number: str) -> Founding:
    """Return the part of a fighting group that got a container of its own."""
    keep = ("genus", "kind", "keeper", "catch", "flight_date", "housing", "feeding", "shelf")
    row = {column: parent.row[column] for column in keep}
    start = _look_from(parent.year, parent.keeper, parent.start, happening.day)
    row.update(
        {
            "founding": number,
            "from": parent.id,
            "left_out": "split-off",
            "assigned": "chosen",
            "started": start.isoformat(),
            "queens": str(happening.number),
        }
    )
    return _fate(row, parent.what, happening.number, parent.year)


def _looks(year: Year, keeper: str, start: dt.date) -> list[dt.date]:
    """Days on which a keeper looks at a founding begun on `start`, in order."""
    cold, warm = _winter(keeper)
    if keeper == "K1":
        days = [start + dt.timedelta(days=i) for i in [*range(4, 100, 4), *range(104, 400, 8)]]
        days = [*(d for d in days if _young(start, d)), *_in_second_summer(start)]
    elif keeper == "K3":
        rng = np.random.default_rng([SEED, 3])
        steps = np.cumsum(rng.integers(3, 7, 90))
        days = [dt.date(2025, 5, 25) + dt.timedelta(days=int(s)) for s in steps]
    else:
        first = dt.date(2025, 5, 18) if keeper == "K2" else dt.date(2025, 5, 14)
        days = [first + dt.timedelta(days=7 * i) for i in range(70)]
    awake = [d for d in days if start < d <= year.last_day and not cold <= d < warm]
    visits = [cold, cold + dt.timedelta(days=35), cold + dt.timedelta(days=70)]
    return sorted({*awake, *(d for d in (*visits, *year.all_looked_at) if d > start)})


def _young(start: dt.date, day: dt.date) -> bool:
    """Whether a founding is still in its first season on a day, winter and March included."""
    return day <= FIRST.last_day or start > FIRST.last_day


def _in_second_summer(start: dt.date) -> list[dt.date]:
    """Days on which K1 looks at what went through a winter."""
    if start > FIRST.last_day:
        return []
    return [FIRST.last_day + dt.timedelta(days=RARELY * i) for i in range(1, 20)]


def _look_from(year: Year, keeper: str, start: dt.date, day: int) -> dt.date:
    """Return the first look from `day` on, on which something is done to a founding."""
    return next(d for d in _looks(year, keeper, start) if (d - start).days >= day)


def _count(workers: int, since: float) -> str:
    return str(workers) if workers <= 10 or abs(since - 30) <= 6 else "10+"


def _brood(one: Founding, day: dt.date) -> str:
    """Highest stage of brood a careful keeper would see."""
    left = one.first_worker - one.lived(day)
    if left > 0 and not math.isfinite(left):
        return "eggs" if one.lived(day) > 6 else "none"
    stages = ((14, "pupae"), (28, "larvae"), (400, "eggs"))
    return next(stage for days, stage in stages if left <= days) if one.lived(day) > 4 else "none"


def _look(one: Founding, day: dt.date) -> Row:
    """Write down what a look on `day` finds, and remember an end."""
    alive, workers = one.alive(day), one.workers(day)
    row = {
        "founding": one.id,
        "date": day.isoformat(),
        "queens_alive": str(alive),
        "workers": _count(workers, one.lived(day) - one.first_worker),
    }
    nth = len(one.looked)
    if one.size >= 6 and nth == 0:
        row["queens_alive"] = "5+"
    if one.keeper == "K1":
        row["brood"] = _brood(one, day)
        if one.rng.random() < 0.04:
            row["workers"], row["brood"] = "", ""
        if one.rng.random() < 0.01:
            row["give_or_take"] = "1"
        if one.rng.random() < 0.03:
            row["note"] = NOTES[int(one.rng.integers(len(NOTES)))]
    if one.what == "Myrmica" and one.keeper == "K4":
        row["fed"] = "yes"
    one.looked.append((day, row))
    one.closed = alive == 0
    return row


def _event(
    one: Founding, day: dt.date, event: str, number: int = 0, other: str = "", note: str = ""
) -> Row:
    return {
        "founding": one.id,
        "date": day.isoformat(),
        "event": event,
        "number": str(number or ""),
        "other": other,
        "note": note,
    }


def _happens(one: Founding, day: dt.date, others: Sequence[Founding]) -> list[Row]:
    """Events that follow the look of `day`; they change the founding from then on."""
    rows = []
    for h in one.happenings:
        if not _now(one, h, day) or (one.closed and h.other != "accident"):
            continue
        other = h.other
        if other == "new":
            other = next(o.id for o in others if o.row.get("from") == one.id)
        sign = {"queens-out": -1, "queens-in": 1}.get(h.what, 0)
        one.shift += sign * h.number
        one.left += sign * h.number
        one.closed |= h.what == "end"
        rows.append(_event(one, day, h.what, h.number, other, h.note))
    return rows


def _now(one: Founding, happening: Happening, day: dt.date) -> bool:
    return _look_from(one.year, one.keeper, one.start, happening.day) == day


def _seen_by_chance(one: Founding, day: dt.date, row: Row, fallen: int) -> list[Row]:
    """Rivals that a keeper happened to see, and males of a queen that was not mated."""
    rows = []
    if row["workers"] not in ("", "0") and one.size > 1 and fallen > 0 and one.rng.random() < 0.4:
        rows.append(_event(one, day, "killed", fallen, "queens"))
    earlier = one.lived(one.looked[-2][0]) if len(one.looked) > 1 else 0.0
    barren = not math.isfinite(one.first_worker) and not one.closed
    if barren and earlier < 80 <= one.lived(day) and one.keeper in ("K1", "K2"):
        rows.append(_event(one, day, "males"))
    return rows


def _due(one: Founding, day: dt.date) -> bool:
    """Whether the keeper looks at a founding on `day`: never before it was met."""
    met = one.row.get("followed_from")
    return day in _looks(one.year, one.keeper, one.start) and (not met or day >= _date(met))


def _visit(one: Founding, day: dt.date, others: Sequence[Founding]) -> tuple[Row, list[Row], bool]:
    """One look: its row, what happened, and whether `rest` says as much."""
    before = one.looked[-1][1] if one.looked else None
    row = _look(one, day)
    if any(h.other == "accident" and _now(one, h, day) for h in one.happenings):
        row["queens_alive"] = "0"
    fallen, one.left = one.left - one.alive(day), one.alive(day)
    told = _seen_by_chance(one, day, row, fallen) + _happens(one, day, others)
    columns = ("queens_alive", "workers")
    same = before is not None and all(before[column] == row[column] for column in columns)
    return row, told, same and not told and "fed" not in row


def season(keeper: str, foundings: list[Founding]) -> tuple[list[Row], list[Row]]:
    """Checks and events of one keeper; only what changed is named where `rest` is written."""
    own = [one for one in foundings if one.keeper == keeper]
    checks: list[Row] = []
    events: list[Row] = []
    calendar = sorted({day for one in own for day in _looks(one.year, keeper, one.start)})
    for day in calendar:
        quiet = False
        for one in own:
            if one.closed or not _due(one, day):
                continue
            row, told, same = _visit(one, day, foundings)
            events += told
            quiet |= same
            if keeper == "K1" or not same:
                checks.append(row)
        if quiet and keeper != "K1":
            checks.append({"founding": "rest", "date": day.isoformat(), "queens_alive": "same"})
    for name, when in zip(("winter-in", "winter-out"), WINTER.get(keeper, ()), strict=False):
        events.append({"founding": "all", "date": when, "event": name})
    return checks, sorted(events, key=lambda row: row["date"])
