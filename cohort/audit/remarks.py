"""What the note of a look tells and its row does not.

What comes in: looks sorted by founding and day, and the queens put in and taken out. What goes
out: warnings. A note is read for the fixed words in it and for nothing else; it fills no column.
"""

from __future__ import annotations

import numpy as np
import pandas as pd

from cohort.audit.find import at, day, tell
from cohort.audit.looks import Followed
from cohort.audit.runs import before_with, day_numbers, run_starts
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
        what=lambda n: tell("brood_in_note", word=told[places[n]]),
        remedy=tell("brood_in_note_do", words=", ".join(words.BROOD)),
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
        return tell("left_in_note", word=told[places[n]], n=int(fewer[places[n]]))

    def remedy(n: int) -> str:
        p = int(places[n])
        event = _event(told[p], int(fewer[p]), int(number[p]))
        before = day((when[p] - 1).astype("datetime64[D]"))
        return tell("left_in_note_do", event=event, day=before)

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
        return tell("left_by_end", how=how)
    return tell("left_by_queens_out", number=str(fewer), how=how or tell("their_new_founding"))
