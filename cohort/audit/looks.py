"""Checks and events as typed -> one row for each look and event of a founding.

What comes in: the typed tables of foundings, checks and events. What goes out: `Followed`, in
which `rest` and `all` rows are spread out, repeats are gone and looks are sorted by founding and
day. What it cannot place (no such founding, no date) it leaves out; the rules tell of those rows.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from cohort.audit import ids
from cohort.audit.runs import (
    Moves,
    day_numbers,
    key,
    last_with,
    moves,
    run_starts,
    stacked,
)
from cohort.terms import words

NEVER = np.int64(1 << 17)  # a day after all others
HANDED = "handed-over"


@dataclass(frozen=True)
class Followed:
    """What was seen of every founding.

    Parameters
    ----------
    looks : DataFrame
        Columns of `checks`, ``code`` (place in foundings) and ``from_rest``; sorted by code, date.
    events : DataFrame
        Columns of `events` and ``code``; sorted by code, date.
    moved : Moves
        Queens put in and taken out.
    end_day : ndarray of int64, shape (foundings,)
        Day number of the first event `end`; `NEVER` when there is none.
    twice : DataFrame
        Rows of looks that share founding and day with another, ``first`` naming its row label.
    """

    looks: pd.DataFrame
    events: pd.DataFrame
    moved: Moves
    end_day: np.ndarray
    twice: pd.DataFrame


def entry_days(foundings: pd.DataFrame) -> np.ndarray:
    """Day number from which each founding is followed."""
    started = day_numbers(foundings["started"])
    entry: np.ndarray = np.maximum(started, day_numbers(foundings["followed_from"]))
    return entry


def followed(
    foundings: pd.DataFrame,
    checks: pd.DataFrame,
    events: pd.DataFrame,
    replaced: pd.DataFrame | None = None,
) -> Followed:
    """Looks and events of every founding, `rest` and `all` spread out.

    Parameters
    ----------
    foundings : DataFrame
        Typed; its order gives the codes.
    checks, events : DataFrame
        Typed, with ``code`` from `ids.codes`.
    replaced : DataFrame, optional
        Rows of checks that were corrected: they named their founding on that day, so that `rest`
        does not speak of it.
    """
    named_looks = _sorted(checks[(checks["code"] >= 0) & checks["date"].notna()])
    named_events = events[(events["code"] >= 0) & events["date"].notna()]
    ended = _end_days(named_events, len(foundings))
    handed = named_events[named_events["event"] == HANDED]
    for_all = _spread_all(foundings, events, handed, named_looks, ended)
    every = _sorted(stacked([named_events, for_all]))
    every = every[~_repeated(every)].reset_index(drop=True)
    ended = _end_days(every, len(foundings))
    moved = moves(every)
    named = key(named_looks["code"].to_numpy(), day_numbers(named_looks["date"]))
    if replaced is not None and len(replaced):
        corrected = key(replaced["code"].to_numpy(), day_numbers(replaced["date"]))
        named = np.concatenate([named, corrected])
    rest = _spread_rest(foundings, checks, handed, named_looks, (moved, named), ended)
    if len(rest):
        looks = _sorted(stacked([named_looks.assign(from_rest=False), rest]))
    else:
        looks = named_looks.assign(from_rest=False)
    looks, twice = _one_a_day(looks)
    return Followed(looks, every, moved, ended, twice)


def put_together(foundings: pd.DataFrame, looks: pd.DataFrame, events: pd.DataFrame) -> Followed:
    """Looks and events of foundings whose sheets were read apart, `rest` read over all of them.

    Parameters
    ----------
    foundings : DataFrame
        Typed; its order gives the codes.
    looks : DataFrame
        Typed looks that stand, with ``code`` and ``from_rest``. Queens of a `rest` row are taken
        from the look before it, and so are workers where they are blank.
    events : DataFrame
        Typed, with ``code``.
    """
    every = _sorted(events)
    every = every[~_repeated(every)].reset_index(drop=True)
    ended, moved = _end_days(every, len(foundings)), moves(every)
    content = [name for name in looks.columns if name not in ("file", "tab", "row")]
    looks = _sorted(looks[~looks.duplicated(content).to_numpy()])
    keys = key(looks["code"].to_numpy(), day_numbers(looks["date"]))
    rest = looks["from_rest"].to_numpy(dtype=bool)
    again = looks.assign(key_=keys, rest_=rest).duplicated(["key_", "rest_"]).to_numpy()
    idle = rest & (np.isin(keys, keys[~rest]) | again)
    idle |= rest & (ended[looks["code"].to_numpy()] < day_numbers(looks["date"]))
    looks = looks[~idle].reset_index(drop=True)
    if len(looks):
        filled = _carried(looks, foundings, moved)
        looks = filled[~(filled["from_rest"] & _zero(filled))].reset_index(drop=True)
    looks, twice = _one_a_day(looks)
    return Followed(looks, every, moved, ended, twice)


def _sorted(table: pd.DataFrame) -> pd.DataFrame:
    keys = key(table["code"].to_numpy(), day_numbers(table["date"]))
    if len(keys) < 2 or bool((keys[1:] >= keys[:-1]).all()):
        return table.reset_index(drop=True)
    return table.take(np.argsort(keys, kind="stable")).reset_index(drop=True)


def _repeated(events: pd.DataFrame) -> np.ndarray:
    content = ["code", "date", "event", "number", "other", "note"]
    return np.asarray(events.duplicated(content))


def _end_days(events: pd.DataFrame, size: int) -> np.ndarray:
    days = np.full(size, NEVER, dtype=np.int64)
    ends = events[events["event"] == "end"]
    np.minimum.at(days, ends["code"].to_numpy(dtype=np.int64), day_numbers(ends["date"]))
    return days


def pairs(
    rows: pd.DataFrame, foundings: pd.DataFrame, handed: pd.DataFrame
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Every founding for every `rest`, `all` or shelf row of its file: row place, code, day.

    A founding that was handed over is of the files of its new keeper from the next day on. A shelf
    stands for the foundings on it of the file's keeper; where he has none there, of all.
    """
    entry, start = entry_days(foundings), day_numbers(foundings["started"])
    has_start = foundings["started"].notna().to_numpy() & (foundings["founding"] != "").to_numpy()
    first = ~foundings["founding"].duplicated().to_numpy()
    scopes = {file: ids.of_file(file, foundings) for file in rows["file"].unique()}
    places: list[np.ndarray] = []
    owners: list[np.ndarray] = []
    day = day_numbers(rows["date"])
    shelf, shelved = foundings["shelf"].to_numpy(), (rows["code"] == ids.SHELF).to_numpy()
    for place, (file, named) in enumerate(zip(rows["file"], rows["founding"], strict=True)):
        scope = scopes[file]
        if shelved[place]:
            own = shelf == named
            scope = own & scope if scope is not None and (own & scope).any() else own
        if scope is None:
            continue
        scope = ids.handed_on(file, scope, foundings, handed, day[place])
        open_ = scope & has_start & first & (np.maximum(entry, start) <= day[place])
        owner = np.flatnonzero(open_)
        owners.append(owner)
        places.append(np.full(len(owner), place))
    if not places:
        none = np.zeros(0, dtype=np.int64)
        return none, none, none
    at_ = np.concatenate(places)
    return at_, np.concatenate(owners), day[at_]


def _spread_all(
    foundings: pd.DataFrame,
    events: pd.DataFrame,
    handed: pd.DataFrame,
    looks: pd.DataFrame,
    ended: np.ndarray,
) -> pd.DataFrame:
    rest = (events["code"] == ids.REST) & events["event"].isin(words.WINTER_REST)
    rows = events[(events["code"].isin((ids.ALL, ids.SHELF)) | rest) & events["date"].notna()]
    if not len(rows):
        return events.iloc[:0]
    place, code, day = pairs(rows, foundings, handed)
    lost = _lost_days(looks, len(foundings))
    keep = (ended[code] >= day) & (lost[code] > day)
    for named in (looks, events[(events["code"] >= 0) & events["date"].notna()]):
        there = key(named["code"].to_numpy(), day_numbers(named["date"]))
        of_rest = (rows["code"] == ids.REST).to_numpy()[place]
        keep &= ~(of_rest & np.isin(key(code, day), there))
    spread = rows.take(place[keep]).assign(code=code[keep])
    return spread.assign(founding=foundings["founding"].to_numpy()[code[keep]])


def _lost_days(looks: pd.DataFrame, size: int) -> np.ndarray:
    days = np.full(size, NEVER, dtype=np.int64)
    none = looks[_zero(looks)]
    np.minimum.at(days, none["code"].to_numpy(dtype=np.int64), day_numbers(none["date"]))
    return days


def _zero(looks: pd.DataFrame) -> np.ndarray:
    zero = looks["queens_alive"].eq(0).fillna(False).to_numpy(dtype=bool)
    return np.asarray(zero & ~looks["queens_alive_at_least"].to_numpy())


def _spread_rest(
    foundings: pd.DataFrame,
    checks: pd.DataFrame,
    handed: pd.DataFrame,
    looks: pd.DataFrame,
    known: tuple[Moves, np.ndarray],
    ended: np.ndarray,
) -> pd.DataFrame:
    """Looks by `rest`; `known`: queens moved, and keys of the looks at named foundings."""
    moved, named = known
    rows = checks[(checks["code"] == ids.REST) & checks["date"].notna() & checks["same"]]
    if not len(rows):
        return checks.iloc[:0].assign(from_rest=True)
    place, code, day = pairs(rows, foundings, handed)
    keep = ended[code] >= day
    keep &= ~np.isin(key(code, day), named)
    place, code = place[keep], code[keep]
    if not len(place):
        return checks.iloc[:0].assign(from_rest=True)
    spread = rows.take(place).assign(code=code, from_rest=True)
    spread["founding"] = foundings["founding"].to_numpy()[code]
    both = _sorted(stacked([looks.assign(from_rest=False), spread]))
    filled = _carried(both, foundings, moved)
    return filled[filled["from_rest"] & ~_zero(filled)]


def _carried(both: pd.DataFrame, foundings: pd.DataFrame, moved: Moves) -> pd.DataFrame:
    """`rest` rows with queens as at the last look; workers 0 where 0 is noted, else as before."""
    code, day = both["code"].to_numpy(), day_numbers(both["date"])
    rest = both["from_rest"].to_numpy(dtype=bool)
    start = run_starts(code)
    net = moved.before(code, day)
    counted = both["queens_alive"].notna().to_numpy() & ~rest
    last = last_with(counted, start)
    number = both["queens_alive"].fillna(0).to_numpy(dtype=np.int64)
    first = foundings["queens"].fillna(0).to_numpy(dtype=np.int64)[code]
    base = np.where(last >= 0, (number - net)[last], first)
    at_least = (last >= 0) & both["queens_alive_at_least"].to_numpy()[last]
    queens = np.where(rest, np.maximum(base + net, 0), number)
    unknown = foundings["queens"].isna().to_numpy()[code] & (last < 0)
    made = both.assign(
        queens_alive=pd.arrays.IntegerArray(queens, np.where(rest, unknown, ~counted)),
        queens_alive_at_least=np.where(rest, at_least, both["queens_alive_at_least"]),
    )
    return _workers_carried(made, foundings, rest, start)


def _workers_carried(
    both: pd.DataFrame, foundings: pd.DataFrame, rest: np.ndarray, start: np.ndarray
) -> pd.DataFrame:
    code = both["code"].to_numpy()
    number = both["workers"].fillna(0).to_numpy(dtype=np.int64)
    # A number above 0 in a `rest` row cannot be that of each of them; 0 means seen in none.
    loose = both["workers_at_least"].to_numpy(dtype=bool)
    noted = both["workers"].notna().to_numpy() & ~(rest & ((number > 0) | loose))
    last = last_with(noted, start)
    # Never looked at before and followed from day 0: as before means none, as on day 0.
    fresh = (last_with(~rest, start) < 0) & foundings["followed_from"].isna().to_numpy()[code]
    workers = np.where(rest, np.where(last >= 0, number[last], 0), number)
    blank = np.where(rest, (last < 0) & ~fresh, ~noted)
    at_least = np.where(
        rest, (last >= 0) & both["workers_at_least"].to_numpy()[last], both["workers_at_least"]
    )
    return both.assign(
        workers=pd.arrays.IntegerArray(workers, blank),
        workers_at_least=at_least.astype(bool),
        queens_alive_at_least=both["queens_alive_at_least"].astype(bool),
    )


def _one_a_day(looks: pd.DataFrame) -> tuple[pd.DataFrame, pd.DataFrame]:
    """One look for a founding and day; the rest of them apart.

    Looks of one day that agree are put together, an exact count before an ``5+``; of looks that
    disagree the first stays (the rules make that an error).
    """
    keys = key(looks["code"].to_numpy(), day_numbers(looks["date"]))
    again = np.zeros(len(keys), dtype=bool)
    again[1:] = keys[1:] == keys[:-1]
    if not again.any():
        return looks, looks.iloc[:0].assign(first=0)
    several = again.copy()
    several[:-1] |= again[1:]
    place = np.arange(len(keys))
    first = np.maximum.accumulate(np.where(again, 0, place))
    twice = looks[several].assign(first=first[several])
    merged = _merged(twice)
    alone = looks[~several]
    return _sorted(stacked([alone, merged])), twice


def _merged(twice: pd.DataFrame) -> pd.DataFrame:
    ordered = twice.sort_values(
        ["first", "queens_alive_at_least", "workers_at_least"], kind="stable"
    )
    blank = {
        name: ordered[name].mask((ordered[name] == "").to_numpy(dtype=bool))
        for name in ("brood", "fed", "photo", "note")
    }
    flags = {
        f"{name}_at_least": ordered[f"{name}_at_least"]
        .astype("boolean")
        .mask(ordered[name].isna().to_numpy(dtype=bool))
        for name in ("queens_alive", "workers")
    }
    merged = ordered.assign(**blank, **flags).groupby("first", sort=True).first()
    for name in blank:
        merged[name] = merged[name].fillna("").astype(object)
    for name in flags:
        merged[name] = merged[name].fillna(False).astype(bool)
    place = twice.groupby("first", sort=True)[["row", "file", "tab"]].first()
    merged[["row", "file", "tab"]] = place
    return merged.reset_index(drop=True)
