"""What the note of a look tells and its row does not.

What comes in: looks sorted by founding and day, and the queens put in and taken out. What goes
out: warnings. A note is read for the fixed words in it and for nothing else; it fills no column.
"""

from __future__ import annotations

import numpy as np
import pandas as pd

from cohort.audit.find import at, day
from cohort.audit.looks import Followed
from cohort.audit.runs import before_with, day_numbers, run_starts
from cohort.base.display import several
from cohort.sheets.found import Found
from cohort.terms import words
from cohort.terms.instead import told_in

_STAGES = (*words.BROOD_ALSO, *(stage for stage in words.BROOD if stage != "none"))


def _words(notes: pd.Series, known: tuple[str, ...]) -> np.ndarray:
    """For each note the first of the known words in it; each distinct note is read once."""
    codes, texts = pd.factorize(notes.to_numpy())
    found = np.empty(len(texts) + 1, dtype=object)
    found[:] = [*(told_in(str(text), known) for text in texts), ""]
    return np.asarray(found[codes])


def brood_in_note(seen: Followed) -> Found:
    """A stage of brood in the note of a look whose column `brood` is blank."""
    looks = seen.looks
    told = _words(looks["note"], _STAGES)
    blank = (looks["brood"] == "").to_numpy() & ~looks["from_rest"].to_numpy(dtype=bool)
    places = np.flatnonzero(blank & (told != ""))
    return at(
        looks,
        places,
        level="warning",
        rule="brood-in-note",
        column="brood",
        what=lambda n: f"The note tells of {told[places[n]]}, but brood is blank.",
        remedy=f"Write the furthest stage seen there: one of {', '.join(words.BROOD)}; in check "
        "notes it stands right behind the counts, such as K2-07 3 0 eggs.",
    )


def left_in_note(foundings: pd.DataFrame, seen: Followed) -> Found:
    """Queens who left alive by the note, and count as dead by the row."""
    looks = seen.looks
    told = _words(looks["note"], (*words.LEFT, *words.PARTED))
    if not (told != "").any():
        return Found()
    code, when = looks["code"].to_numpy(), day_numbers(looks["date"])
    number = looks["queens_alive"].fillna(0).to_numpy(dtype=np.int64)
    exact = looks["queens_alive"].notna().to_numpy()
    exact &= ~looks["queens_alive_at_least"].to_numpy(dtype=bool)
    net = seen.moved.before(code, when)
    last = before_with(exact, run_starts(code))
    first = foundings["queens"].fillna(0).to_numpy(dtype=np.int64)[code]
    fewer = np.where(last >= 0, (number - net)[last], first) + net - number
    open_ = ~looks["from_rest"].to_numpy(dtype=bool) & (seen.end_day[code] > when)
    places = np.flatnonzero((told != "") & exact & (fewer > 0) & open_)

    def what(n: int) -> str:
        many = several(int(fewer[places[n]]), "queen")
        dead = "counts" if fewer[places[n]] == 1 else "count"
        return f"The note says '{told[places[n]]}', but the {many} fewer {dead} as dead."

    def remedy(n: int) -> str:
        p = int(places[n])
        event = _event(told[p], int(fewer[p]), int(number[p]))
        before = day((when[p] - 1).astype("datetime64[D]"))
        return (
            f"If they left alive, add the event {event} with the date {before}, the day before "
            "this look."
        )

    return at(
        looks,
        places,
        level="warning",
        rule="left-in-note",
        column="queens_alive",
        what=what,
        remedy=remedy,
    )


def _event(told: str, fewer: int, left: int) -> str:
    how = words.LEFT.get(told, "")
    if how in words.END_WHY and not left:
        return f"end, with other {how},"
    return f"queens-out, with number {fewer} and other {how or 'their new founding'},"
