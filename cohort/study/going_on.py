"""Colonies that go on: one founding in the sheets of two seasons.

What comes in: the studies of one club. What goes out: one `Study` in which a founding stands once,
with the looks and events of all its sheets, and findings where these contradict each other. Nothing
is guessed.

`rest` in the next season's sheet says that queens were as at the last look, and that look may be in
the sheet of the season before: it is read anew over both.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import combinations
from typing import Final

import numpy as np
import pandas as pd

from cohort.audit import checks, counts, events
from cohort.audit.looks import Followed, put_together
from cohort.base.errors import Finding
from cohort.study import COLUMNS, Study
from cohort.study.one_club import DISAGREE, FREE, STANDS, blank, contradictions

_JUNCTION: Final = ("ended-twice", "winter-in-twice")
"""Warnings in one study; between two they are a contradiction."""
_LOOK: Final = {"at_least": "queens_alive_at_least"}


def first_look(study: Study) -> pd.Timestamp:
    """Day of the first look of a study; the end of time where there is none."""
    first = study.checks["date"].min()
    return pd.Timestamp.max if pd.isna(first) else first


def joined(parts: Sequence[Study]) -> tuple[Study, list[Finding], list[str]]:
    """One study of those of a club, what contradicts, and what is to be said.

    Parameters
    ----------
    parts : sequence of Study
        The earliest first, with the names they have in the whole. The settings are those of the
        first; one alone is given back as it is.
    """
    if len(parts) == 1:
        return parts[0], [], []
    found = [f for one, other in combinations(parts, 2) for f in contradictions(one, other)]
    faulty = _together(parts, "faulty").drop_duplicates("founding", ignore_index=True)
    lost = set(faulty["founding"])
    rows, moved = _foundings(parts)
    rows = rows[~rows["founding"].isin(lost)].reset_index(drop=True)
    goers = _goers(parts) - lost
    happened, told = _events(parts, rows, goers)
    seen = _seen(parts, rows, happened, goers)
    if not found:  # of a founding that began otherwise counts say nothing
        found = told + _new(parts, rows, seen, goers)
    alone = _together(parts, "checks")
    alone = alone[~alone["founding"].isin(goers | lost)]
    looks = seen.looks.rename(columns={new: old for old, new in _LOOK.items()})
    own = [name for name in looks if name in alone or name in COLUMNS["checks"]]
    study = replace(
        parts[0],
        kinds=_kinds(parts),
        foundings=rows,
        checks=_in_order(pd.concat([alone, looks[own]]) if len(alone) else looks[own], rows),
        events=_in_order(happened, rows),
        catches=_once(parts, "catches", ["catch"], found),
        temperatures=_once(parts, "temperatures", ["shelf", "date"], found),
        faulty=faulty,
        sources=tuple(source for part in parts for source in part.sources),
        not_read=tuple(line for part in parts for line in part.not_read),
    )
    return study, found, [*moved, *_gone_on(goers)]


def _gone_on(goers: set[str]) -> list[str]:
    if not goers:
        return []
    names = sorted(goers)
    shown = ", ".join(names[:4]) + (", ..." if len(names) > 4 else "")
    return [
        f"{len(names)} founding{'s' if len(names) > 1 else ''} in the sheets of more than one "
        f"season ({shown}): each is one founding, with the looks of all its sheets."
    ]


def _goers(parts: Sequence[Study]) -> set[str]:
    """Numbers that more than one study has."""
    names = [set(part.foundings["founding"]) for part in parts]
    return {name for one, other in combinations(names, 2) for name in one & other}


def stacked(frames: Sequence[pd.DataFrame]) -> pd.DataFrame:
    """Frames one below the other; empty ones do not decide a column's type."""
    filled = [frame for frame in frames if len(frame)]
    if not filled:
        return frames[0].copy()
    whole = pd.concat(filled, ignore_index=True)
    some = [str(name) for name in whole if not all(name in frame for frame in filled)]
    texts = [name for name in some if all(isinstance(v, str) for v in whole[name].dropna())]
    return whole.fillna(dict.fromkeys(texts, ""))  # text is "" when blank, one's own too


def _together(parts: Sequence[Study], frame: str) -> pd.DataFrame:
    return stacked([getattr(part, frame) for part in parts])


def _foundings(parts: Sequence[Study]) -> tuple[pd.DataFrame, list[str]]:
    """Rows of foundings, each once: the first one, its blanks filled by the later ones."""
    frame = _together(parts, "foundings")
    first: dict[str, int] = {}
    changed: dict[str, list[str]] = {}
    for place, name in enumerate(frame["founding"]):
        here = first.setdefault(str(name), place)
        if here != place:
            for column in _filled(frame, here, place):
                changed.setdefault(column, []).append(str(name))
    named = frame[frame["named"].astype(bool)].drop_duplicates("kind").set_index("kind")["genus"]
    later = ~frame["named"].astype(bool) & frame["kind"].isin(named.index.difference([""]))
    frame.loc[later, "genus"] = frame.loc[later, "kind"].map(named)
    frame.loc[later, "named"] = True
    notes = [
        f"{', '.join(names[:4])}{', ...' if len(names) > 4 else ''}: another {column} in a later "
        "season; that of the first stands."
        for column, names in changed.items()
    ]
    return frame.loc[sorted(first.values())].reset_index(drop=True), notes


def _filled(frame: pd.DataFrame, here: int, later: int) -> list[str]:
    """Fill the blanks of a row by a later row of its founding; columns in which it changed."""
    changed = []
    for column in map(str, frame.columns):
        one, other = frame.at[here, column], frame.at[later, column]
        # Whoever looked first says from when it was followed, and of which season it is.
        if column in ("founding", "season", "arm", "file", "row", "left_out", "followed_from"):
            continue
        if column in ("genus", "named"):
            if not frame.at[here, "named"] and frame.at[later, "named"]:
                frame.loc[here, ["genus", "named"]] = [frame.at[later, "genus"], True]
        elif blank(one, column) and not blank(other):
            frame.at[here, column] = other
        elif column in STANDS and not blank(other) and one != other:
            changed.append(column)
        elif column in FREE and not blank(other) and str(other) not in str(one):
            frame.at[here, column] = f"{one}; {other}"
    return changed


def _coded(frame: pd.DataFrame, rows: pd.DataFrame) -> pd.DataFrame:
    """The frame with ``code`` (place of the founding) and a blank ``tab``."""
    place = {name: code for code, name in enumerate(rows["founding"])}
    code = frame["founding"].map(place).to_numpy(dtype=np.int64)
    return frame.assign(code=code, tab="")


def _events(
    parts: Sequence[Study], rows: pd.DataFrame, goers: set[str]
) -> tuple[pd.DataFrame, list[Finding]]:
    """Events of all sheets, each once, and those of one day that do not say the same."""
    known = set(rows["founding"])
    frames = [part.events.assign(member=k) for k, part in enumerate(parts)]
    frame = stacked(frames)
    frame = frame[frame["founding"].isin(known)].reset_index(drop=True)
    same = ["founding", "date", "event", "number", "other"]
    drop: set[int] = set()
    found = []
    mine = frame[frame["founding"].isin(goers)]
    for _, group in mine.groupby(same[:3], sort=False):
        if group["member"].nunique() < 2:
            continue
        kept = group[group["member"] == group["member"].min()]
        for place in group.index.difference(kept.index):
            twin = _twin(frame, list(kept.index), place)
            if twin is None:
                found.append(_event(frame.loc[place], frame.loc[kept.index[0]]))
                continue
            drop.add(place)
            for column in ("number", "other", "note"):
                if blank(frame.at[twin, column]):
                    frame.at[twin, column] = frame.at[place, column]
    return frame.drop(index=sorted(drop)).drop(columns="member"), found


def _twin(frame: pd.DataFrame, places: list[int], place: int) -> int | None:
    """The event of another sheet that says the same, blanks apart."""
    for one in places:
        pairs = [(frame.at[one, c], frame.at[place, c]) for c in ("number", "other")]
        if all(blank(a) or blank(b) or a == b for a, b in pairs):
            return one
    return None


def _event(row: pd.Series, other: pd.Series) -> Finding:
    return Finding(
        level="error",
        rule=DISAGREE,
        file=str(row["file"]),
        row=int(row["row"]),
        column="event",
        founding=str(row["founding"]),
        what=f"{row['founding']}: {row['event']} on {row['date'].date()} says something else in "
        f"{other['file']}, row {other['row']}.",
        remedy="Correct the one that is wrong; what happened once goes into both alike.",
    )


def _seen(
    parts: Sequence[Study], rows: pd.DataFrame, happened: pd.DataFrame, goers: set[str]
) -> Followed:
    """Looks and events of the foundings that go on, `rest` read over all their sheets."""
    frames = []
    for part in parts:
        own = part.checks[part.checks["founding"].isin(goers)].rename(columns=_LOOK)
        counted = ~own["from_rest"].to_numpy(dtype=bool) & own["workers"].notna().to_numpy()
        first = own["date"].where(counted).groupby(own["founding"]).transform("min")
        before = first.isna() | (own["date"] < first)
        unknown = (own["from_rest"].astype(bool) & before).to_numpy(dtype=bool)
        frames.append(own.assign(workers=own["workers"].mask(unknown)))
    looks = _coded(stacked(frames), rows)
    mine = _coded(happened[happened["founding"].isin(goers)], rows)
    return put_together(rows, looks, mine)


def _new(
    parts: Sequence[Study], rows: pd.DataFrame, seen: Followed, goers: set[str]
) -> list[Finding]:
    """What contradicts between the sheets and in none of them alone."""
    known: set[tuple[str, str, int]] = set()
    for part in parts:
        there = goers & set(part.foundings["founding"])
        happened = part.events[part.events["founding"].isin(there)]
        own = _seen([part], rows, happened, there)
        known |= {(f.rule, f.file, f.row) for f in _told(rows, own)}
    found = [f for f in _told(rows, seen) if (f.rule, f.file, f.row) not in known]
    return [_with_place(finding, seen) for finding in found]


def _told(rows: pd.DataFrame, seen: Followed) -> list[Finding]:
    every = [
        checks.inside_following(rows, seen.looks, seen),
        checks.twice_a_day(seen),
        counts.count_rises(rows, seen),
        counts.more_out_than_alive(rows, seen),
        events.around_the_end(seen),
        events.winter_pairs(seen),
    ]
    return [f for part in every for f in part if f.level == "error" or f.rule in _JUNCTION]


def _with_place(finding: Finding, seen: Followed) -> Finding:
    """The finding with the place of the row before it in another file."""
    columns = ["founding", "date", "file", "row"]
    every = pd.concat([seen.looks[columns], seen.events[columns]])
    every = every[every["founding"] == finding.founding]
    here = every[(every["file"] == finding.file) & (every["row"] == finding.row)]
    other = every[every["file"] != finding.file]
    if not len(here) or not len(other) or any(f in finding.what for f in other["file"]):
        return finding
    before = other[other["date"] <= here["date"].iloc[0]]
    last = (before if len(before) else other).sort_values("date").iloc[-1 if len(before) else 0]
    return replace(finding, what=f"{finding.what} Compare {last['file']}, row {last['row']}.")


def _kinds(parts: Sequence[Study]) -> pd.DataFrame:
    """Words for kinds, each once; a blank is filled by what a later study says."""
    frame = _together(parts, "kinds")
    texts = [str(name) for name in frame if name != "first_called"]
    said = frame.assign(**{name: frame[name].mask(frame[name] == "") for name in texts})
    made = said.groupby("kind", sort=False, as_index=False).first()
    made[texts] = made[texts].fillna("").astype(object)
    return made[list(frame.columns)]


def _once(parts: Sequence[Study], name: str, key: list[str], found: list[Finding]) -> pd.DataFrame:
    """Rows of catches or temperatures, each once; two that differ are told in `found`."""
    frame = _together(parts, name).drop_duplicates(ignore_index=True)
    twice = frame.duplicated(key, keep=False)
    for values in frame.loc[twice, key].drop_duplicates().itertuples(index=False):
        what = ", ".join(str(v.date()) if isinstance(v, pd.Timestamp) else str(v) for v in values)
        found.append(
            Finding(
                level="error",
                rule=DISAGREE,
                file=name,
                what=f"{what}: the sheets of two seasons say different things.",
                remedy="Correct the one that is wrong; if they are two, give one another name.",
            )
        )
    return frame.drop_duplicates(key, ignore_index=True)


def _in_order(frame: pd.DataFrame, rows: pd.DataFrame) -> pd.DataFrame:
    """Rows by founding, in the order of foundings, and day."""
    place = {name: code for code, name in enumerate(rows["founding"])}
    order = frame["founding"].map(place)
    keys = frame.assign(order_=order).sort_values(["order_", "date"], kind="stable")
    return keys.drop(columns=[c for c in ("order_", "code", "tab") if c in keys]).reset_index(
        drop=True
    )
