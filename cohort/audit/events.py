"""Rules for the sheet `events`.

What comes in: typed foundings and events (with ``code``), and what was followed. What goes out:
findings. How many queens were taken out is held against the counts in `counts`.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pandas as pd

from cohort.audit import ids
from cohort.audit.find import NOTHING, at, day, days, tell
from cohort.audit.looks import HANDED, Followed
from cohort.audit.runs import day_numbers
from cohort.sheets.found import Found
from cohort.sheets.numbers import keeper_of
from cohort.terms import instead, words
from cohort.terms.near import did_you_mean


def placed(foundings: pd.DataFrame, events: pd.DataFrame) -> Found:
    """Events of a founding that is not there; `all` in a file that does not tell whose."""
    code = events["code"].to_numpy()
    rests = events["event"].isin(words.WINTER_REST).to_numpy(dtype=bool)
    many = (code == ids.ALL) | ((code == ids.REST) & rests)
    files = [name for name in events["file"][many].unique() if ids.of_file(name, foundings) is None]
    whose = many & events["file"].isin(files).to_numpy()
    return (
        ids.unknown_ids(events, code == ids.UNKNOWN, foundings)
        + at(
            events,
            (code == ids.REST) & ~rests,
            level="error",
            rule="rest-in-events",
            column="founding",
            what=tell("rest_in_events"),
            remedy=tell("rest_in_events_do"),
        )
        + at(
            events,
            whose,
            level="error",
            rule="all-of-whom",
            column="founding",
            what=tell("all_of_whom"),
            remedy=tell("sign_in_name_do", file="events-K2.csv"),
        )
    )


def before_started(foundings: pd.DataFrame, events: pd.DataFrame) -> Found:
    """An event before the founding started."""
    code = events["code"].to_numpy()
    known = np.flatnonzero((code >= 0) & events["date"].notna().to_numpy())
    started = day_numbers(foundings["started"])
    early = known[day_numbers(events["date"])[known] < started[code[known]]]
    return at(
        events,
        early,
        level="error",
        rule="event-before-started",
        column="date",
        what=[
            tell("before_started", day=when)
            for when in days(foundings["started"].to_numpy()[code[early]])
        ],
        remedy=tell("before_started_do"),
    )


def number_needed(events: pd.DataFrame) -> Found:
    """Queens put in or taken out without a number."""
    moved = events["event"].isin(words.NEEDS_NUMBER).to_numpy()
    none = events["number"].fillna(0).eq(0).to_numpy(dtype=bool)
    return at(
        events,
        moved & none,
        level="error",
        rule="number-missing",
        column="number",
        what=tell("number_missing"),
        remedy=tell("number_missing_do"),
    )


def other_word(foundings: pd.DataFrame, events: pd.DataFrame) -> Found:
    """The word under `other`: why it ended, where the queens went, what was killed."""
    known = set(foundings["founding"]) - {""}
    event, other = events["event"].to_numpy(), events["other"].to_numpy()
    findings = Found()
    for name, allowed in words.OTHER_WORDS.items():
        mine = np.flatnonzero(event == name)
        right = {*allowed, *known} if name == "queens-out" else set(allowed)
        bad = [bool(other[p]) and other[p] not in right for p in mine]
        wrong = mine[np.array(bad, dtype=bool)]
        findings += at(
            events,
            wrong,
            level="warning" if name == "killed" else "error",
            rule="unknown-word",
            column="other",
            what=_no_other(other[wrong], name),
            remedy=_right_others(other[wrong], name, known),
        )
    return findings + _other_blank(events)


def handed_over(foundings: pd.DataFrame, events: pd.DataFrame) -> Found:
    """A founding handed over to nobody, or to a keeper of whom the study has nothing yet."""
    pairs = zip(foundings["keeper"], foundings["founding"], strict=True)
    known = {(sign or keeper_of(number)).lower() for sign, number in pairs} - {""}
    other = events["other"].to_numpy()
    mine = (events["event"] == HANDED).to_numpy()
    strange = mine & np.array([bool(one) and one.lower() not in known for one in other], dtype=bool)
    return at(
        events,
        mine & (other == ""),
        level="error",
        rule="handed-to-nobody",
        column="other",
        what=tell("handed_to_nobody"),
        remedy=tell("handed_to_nobody_do"),
    ) + at(
        events,
        strange,
        level="warning",
        rule="handed-to-whom",
        column="other",
        what=lambda n: tell("handed_to_whom", sign=other[np.flatnonzero(strange)[n]]),
        remedy=tell("handed_to_whom_do"),
    )


def _no_other(texts: np.ndarray, event: str) -> Callable[[int], str]:
    key = "unknown_word_or_founding" if event == "queens-out" else "unknown_word"
    right = ", ".join(words.OTHER_WORDS[event])
    return lambda n: tell(key, text=str(texts[n]), words=right)


def _right_others(texts: np.ndarray, event: str, known: set[str]) -> Callable[[int], str]:
    """Remedies for words under `other` that are none of their event's."""
    nearest = ids.nearest(texts, known)

    def right(n: int) -> str:
        text = str(texts[n])
        near = nearest(text) if event == "queens-out" else ""
        return (
            instead.for_other(text, event)
            or did_you_mean(text, [near] if near else words.OTHER_WORDS[event], cutoff=0.6)
            or (_row_for(text) if event == "queens-out" and keeper_of(text) else "")
            or tell("one_of_these")
        )

    return right


def _row_for(number: str) -> str:
    return tell("other_founding_do", founding=number)


def _plain(text: str) -> str:
    return str(text).lower().replace(" ", "-").replace("_", "-")


def other_as_listed(events: pd.DataFrame) -> np.ndarray:
    """Cells ``other`` with the fixed words in their listed form: ``Gave up`` -> ``gave-up``."""
    pairs = zip(events["event"], events["other"], strict=True)
    made = [
        _plain(other) if _plain(other) in words.OTHER_WORDS.get(event, ()) else other
        for event, other in pairs
    ]
    listed = np.empty(len(made), dtype=object)
    listed[:] = made
    return listed


def _other_blank(events: pd.DataFrame) -> Found:
    blank = (events["other"] == "").to_numpy()
    return at(
        events,
        blank & (events["event"] == "end").to_numpy(),
        level="error",
        rule="end-without-reason",
        column="other",
        what=tell("end_without_reason"),
        remedy=tell("end_without_reason_do", words=", ".join(words.END_WHY)),
    ) + at(
        events,
        blank & (events["event"] == "queens-out").to_numpy(),
        level="warning",
        rule="out-where",
        column="other",
        what=tell("out_where"),
        remedy=tell("out_where_do", words=", ".join(words.QUEENS_OUT_TO)),
    )


def new_founding(foundings: pd.DataFrame, events: pd.DataFrame) -> Found:
    """Queens moved between foundings: same kind, and `from` noted in the new one."""
    code = events["code"].to_numpy()
    other = ids.codes(events["other"], foundings)
    moved = events["event"].isin(["queens-out", "queens-in"]).to_numpy()
    places = np.flatnonzero(moved & (code >= 0) & (other >= 0))
    label, origin = foundings["label"].to_numpy(), foundings["from"].to_numpy()
    names = foundings["founding"].to_numpy()
    mine, theirs = label[code[places]], label[other[places]]
    mixed = (mine != "") & (theirs != "") & (mine != theirs)
    parted = (events["event"] == "queens-out").to_numpy()[places]
    lacking = parted & ~mixed & (origin[other[places]] != names[code[places]])
    return at(
        events,
        places[mixed],
        level="error",
        rule="two-kinds",
        column="other",
        what=[
            tell("two_kinds_moved", one=one, two=two)
            for one, two in zip(mine[mixed], theirs[mixed], strict=True)
        ],
        remedy=tell("two_kinds_do"),
    ) + at(
        events,
        places[lacking],
        level="warning",
        rule="from-missing",
        column="other",
        what=[tell("from_missing", founding=names[new]) for new in other[places[lacking]]],
        remedy=tell("from_missing_do"),
    )


def around_the_end(seen: Followed) -> Found:
    """A second end, and events after the end."""
    events = seen.events
    code, when = events["code"].to_numpy(), day_numbers(events["date"])
    end = (events["event"] == "end").to_numpy()
    second = end & events.assign(end=end).duplicated(["code", "end"]).to_numpy()
    late = (when > seen.end_day[code]) & ~end if len(code) else end
    return at(
        events,
        second,
        level="warning",
        rule="ended-twice",
        column="event",
        what=tell("ended_twice"),
        remedy=tell("ended_twice_do"),
    ) + at(
        events,
        late,
        level="warning",
        rule="event-after-end",
        column="date",
        what=[
            tell("event_after_end", day=day(seen.end_day[code[p]].astype("datetime64[D]")))
            for p in np.flatnonzero(late)
        ],
        remedy=tell("both_dates_do"),
    )


def winter_pairs(seen: Followed) -> Found:
    """Taken from winter rest without having been put to it, or put to it twice."""
    events = seen.events
    winter = np.flatnonzero(events["event"].isin(["winter-in", "winter-out"]).to_numpy())
    code = events["code"].to_numpy()[winter]
    inward = (events["event"] == "winter-in").to_numpy()[winter]
    same = np.zeros(len(winter), dtype=bool)
    same[1:] = code[1:] == code[:-1]
    resting = np.zeros(len(winter), dtype=bool)
    resting[1:] = same[1:] & inward[:-1]
    return at(
        events,
        winter[~inward & ~resting],
        level="warning",
        rule="winter-out-first",
        column="event",
        what=tell("winter_out_first"),
        remedy=tell("winter_out_first_do"),
    ) + at(
        events,
        winter[inward & resting],
        level="warning",
        rule="winter-in-twice",
        column="event",
        what=tell("winter_in_twice"),
        remedy=tell("winter_in_twice_do"),
    )


def repeated(events: pd.DataFrame) -> Found:
    """Events that are typed twice; those of all foundings of a file, in the same file."""
    many = events["code"].isin((ids.ALL, ids.REST, ids.SHELF))
    told = ["founding", "date", "event", "number", "other", "note", "of"]
    again = (
        events.assign(of=events["file"].where(many, "")).duplicated(told).to_numpy()
        & (events["founding"] != "").to_numpy()
    )
    return at(
        events,
        again,
        level="note",
        rule="repeated-row",
        what=tell("repeated_row"),
        remedy=NOTHING,
    )
