"""Counts of queens, look by look, turned into intervals with queens at risk and lost.

What comes in: sorted looks, the day each founding enters, the day it must stop, and queens taken
out alive. What goes out: `Runs`, the intervals ``(after, by]`` as arrays. It knows nothing of
workers, dates or words.

An interval runs from one exact count to the next: a look that counted nobody, or "at least five",
says nothing on losses and is passed over. Queens taken out at a look leave after that look's
count: losses first.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import pandas as pd

from cohort.base.errors import StudyError
from cohort.history.looks import Looks, Start
from cohort.history.record import Flags, Floats, Ints

STRIDE = 1e6  # more days than any founding lives: one sorted key for founding and day
DEAD_AT_BREAKFAST = 0.5  # days


@dataclass(frozen=True)
class Anchors:
    """Where the follow-up of each founding begins: day, queens, and whether it begins at all."""

    names: pd.Index
    day: Floats
    queens: Ints
    enters: Flags


@dataclass(frozen=True)
class Counts:
    """Exact counts in use, sorted by founding and day, and the queens taken out after each.

    Parameters
    ----------
    code, day, queens, slack : numpy.ndarray
        As in `Looks`.
    out : numpy.ndarray of int
        Queens taken out alive after the count.
    first_out : numpy.ndarray of int, shape (foundings,)
        Queens taken out alive after the anchor and before the first count.
    anchors : Anchors
        Where each founding begins.
    """

    code: Ints
    day: Floats
    queens: Ints
    slack: Floats
    out: Ints
    first_out: Ints
    anchors: Anchors


@dataclass(frozen=True)
class Outs:
    """Queens taken out alive: founding, day, number and the word for where they went."""

    code: Ints
    day: Floats
    number: Ints
    word: np.ndarray


@dataclass(frozen=True)
class Runs:
    """Intervals ``(after, by]`` in order of founding and time.

    Parameters
    ----------
    code, after, by, at_risk, alive : numpy.ndarray
        One element per interval.
    look : numpy.ndarray
        Day on which the count that ends the interval was noted, before any widening.
    """

    code: Ints
    after: Floats
    by: Floats
    at_risk: Ints
    alive: Ints
    look: Floats


def anchor(seen: Looks, begun: Start) -> Anchors:
    """Give the day and count at which each founding enters.

    A founding followed from day 0 enters with its queens at the start. One followed later enters
    at its first exact count on or after that day; with no such count it never enters.
    """
    number = len(begun.size)
    day, queens = begun.closed.copy(), begun.size.copy()
    enters = np.ones(number, dtype=bool)
    late = np.flatnonzero(~np.isnan(begun.followed))
    if len(late):
        exact = np.flatnonzero(~np.isnan(seen.queens))
        key = seen.code[exact] * STRIDE + seen.day[exact]
        at = np.searchsorted(key, late * STRIDE + begun.followed[late])
        inside = at < len(exact)
        found = exact[np.minimum(at, max(len(exact) - 1, 0))] if len(exact) else at
        if len(exact):
            inside &= seen.code[found] == late
        hit, miss = late[inside], late[~inside]
        day[hit], queens[hit] = seen.day[found[inside]], seen.queens[found[inside]].astype(np.int64)
        day[miss], enters[miss] = begun.followed[miss], False
    return Anchors(begun.names, day, queens, enters)


def counts(seen: Looks, anchors: Anchors, limit: Floats) -> Counts:
    """Give the exact counts after entry, up to the limit and up to the first count of none."""
    code, day = seen.code, seen.day
    begin = anchors.day[code]
    # A count on the day of entry that agrees adds nothing; one of day 0 that shows fewer queens
    # is a death between closing the container and breakfast.
    fewer = (day == begin) & (seen.queens != anchors.queens[code])
    keep = ~np.isnan(seen.queens) & ((day > begin) | fewer) & (day <= limit[code])
    keep &= anchors.enters[code]
    code, day = code[keep], day[keep]
    queens, slack = seen.queens[keep].astype(np.int64), seen.slack[keep]
    # Nothing after the first count of none.
    none = np.flatnonzero(queens == 0)
    last = np.full(len(limit), np.inf)
    np.minimum.at(last, code[none], day[none])
    used = day <= last[code]
    code, day, queens, slack = code[used], day[used], queens[used], slack[used]
    zero = np.zeros(len(code), dtype=np.int64)
    return Counts(code, day, queens, slack, zero, np.zeros(len(limit), dtype=np.int64), anchors)


def _before(number: Counts, values: Floats | Ints, at_anchor: Floats | Ints) -> np.ndarray:
    """Shift `values` by one look inside each founding, its anchor's value coming first."""
    first = np.diff(number.code, prepend=-1) != 0
    return np.where(first, at_anchor[number.code], np.roll(values, 1))


def at_risk(number: Counts) -> Ints:
    """Give the queens at risk in the interval that ends at each count.

    Raises
    ------
    StudyError
        If a count is higher than the queens at risk.
    """
    held = _before(number, number.queens - number.out, number.anchors.queens - number.first_out)
    rises = number.queens > held
    if rises.any():
        at = int(np.argmax(rises))
        raise StudyError(
            f"checks, {number.anchors.names[number.code[at]]}: {number.queens[at]} queens alive on "
            f"day {number.day[at]:g}, where at most {held[at]} can be, and no queen was put in. "
            "Run `cohort audit` on the folder: it tells file and row."
        )
    return np.asarray(held, dtype=np.int64)


def _slots(number: Counts, outs: Outs) -> Ints:
    """Give the count after which each removal comes; -1 - code for the anchor."""
    key = number.code * STRIDE + number.day
    at = np.searchsorted(key, outs.code * STRIDE + outs.day, side="right") - 1
    if not len(key):
        return -1 - outs.code
    # More taken out than were counted that day: they went before that day's look.
    same_day = (at >= 0) & (key[at] == outs.code * STRIDE + outs.day)
    at = at - (same_day & (outs.number > number.queens[at]))
    own = (at >= 0) & (number.code[at] == outs.code)
    return np.where(own, at, -1 - outs.code)


def take_out(number: Counts, outs: Outs) -> Counts:
    """Enter the queens taken out alive after the count they belong to.

    Where queens went out on a day without a count, nobody knows on which side of that day a loss
    of the same interval fell. With no loss the interval is cut at that day, which is exact. With
    a loss they count as gone since the look before, so no exposure is claimed that may not have
    been.
    """
    slot = _slots(number, outs)
    number = _cut(number, outs, slot)
    slot = _slots(number, outs)
    out, first_out = number.out.copy(), number.first_out.copy()
    late = slot >= 0
    np.add.at(out, slot[late], outs.number[late])
    np.add.at(first_out, -1 - slot[~late], outs.number[~late])
    return replace(number, out=out, first_out=first_out)


def _cut(number: Counts, outs: Outs, slot: Ints) -> Counts:
    """Put in a count on the day of a removal between two looks that show no loss."""
    _, index, repeats = np.unique(slot, return_index=True, return_counts=True)
    alone = index[repeats == 1]
    after = np.where(slot[alone] >= 0, slot[alone] + 1, 0)
    opening = slot[alone] < 0
    if opening.any():
        after[opening] = np.searchsorted(number.code, outs.code[alone][opening])
    inside = after < len(number.code)
    alone, after = alone[inside], after[inside]
    code = outs.code[alone]
    held = np.where(
        slot[alone] >= 0, number.queens[slot[alone]], number.anchors.queens[code]
    ).astype(np.int64)
    since = np.where(slot[alone] >= 0, number.day[slot[alone]], number.anchors.day[code])
    good = (
        (number.code[after] == code)
        & (outs.day[alone] > since)
        & (outs.day[alone] < number.day[after])
        & (number.queens[after] == held - outs.number[alone])
    )
    alone, after, held = alone[good], after[good], held[good]
    return replace(
        number,
        code=np.insert(number.code, after, outs.code[alone]),
        day=np.insert(number.day, after, outs.day[alone]),
        queens=np.insert(number.queens, after, held),
        slack=np.insert(number.slack, after, 0.0),
        out=np.insert(number.out, after, 0),
    )


def left_after(number: Counts, outs: Outs) -> tuple[Ints, Floats]:
    """Give, for each removal, the queens then left and the day of the count it follows."""
    slot = _slots(number, outs)
    late = slot >= 0
    total = np.zeros(len(number.code) + 1, dtype=np.int64)
    np.add.at(total, slot[late], outs.number[late])
    at_start = np.zeros(len(number.first_out), dtype=np.int64)
    np.add.at(at_start, -1 - slot[~late], outs.number[~late])
    at = np.where(late, slot, len(number.code))
    held = np.append(number.queens, 0)[at] - total[at]
    day = np.append(number.day, 0.0)[at]
    left = np.where(late, held, (number.anchors.queens - at_start)[outs.code])
    return left, np.where(late, day, number.anchors.day[outs.code])


def _merge_doubtful(number: Counts) -> Counts:
    """Leave out counts of doubtful date with losses on both sides: their intervals merge."""
    loss = at_risk(number) > number.queens
    following = np.append(loss[1:] & (np.diff(number.code) == 0), False)
    keep = ~(loss & following & (number.slack > 0))
    if keep.all():
        return number
    # What was taken out at a count left out counts as taken out at the count kept before it.
    place = np.cumsum(keep) - 1
    out = number.out[keep]
    first_out = number.first_out.copy()
    gone = np.flatnonzero(~keep & (number.out > 0))
    own = (place[gone] >= 0) & (number.code[keep][place[gone]] == number.code[gone])
    np.add.at(out, place[gone][own], number.out[gone][own])
    np.add.at(first_out, number.code[gone][~own], number.out[gone][~own])
    return replace(
        number,
        code=number.code[keep],
        day=number.day[keep],
        queens=number.queens[keep],
        slack=number.slack[keep],
        out=out,
        first_out=first_out,
    )


def _widened(number: Counts, day: Floats, slack: Floats, loss: Flags, limit: Floats) -> Floats:
    """Move each doubtful count away from the loss beside it, kept inside its neighbours."""
    same = np.append(np.diff(number.code) == 0, False)
    following = np.append(loss[1:], False) & same
    ceiling = np.where(same, np.append(day[1:], np.inf), limit[number.code])
    floor = _before(number, day, number.anchors.day)
    up = loss & ~following
    down = following & ~loss
    moved = np.where(up, np.maximum(np.minimum(day + slack, ceiling), day), day)
    moved = np.where(down, np.maximum(day - slack, floor), moved)
    # Two counts that agree, a loss on either side, may move past each other: they meet halfway.
    cross = np.flatnonzero(same[:-1] & (moved[:-1] > moved[1:])) if len(day) else np.array([], int)
    middle = (day[cross] + day[cross + 1]) / 2
    moved[cross], moved[cross + 1] = middle, middle
    return np.asarray(moved, dtype=np.float64)


def runs(number: Counts, limit: Floats) -> Runs:
    """Give the intervals between counts, widened where dates are doubtful.

    Parameters
    ----------
    number : Counts
        Counts in use, with queens taken out.
    limit : numpy.ndarray, shape (foundings,)
        No interval is widened past this day.
    """
    number = _merge_doubtful(number)
    held = at_risk(number)
    loss = held > number.queens
    begin = number.anchors.day[number.code]
    # A loss cannot take no time: one seen on day 0 fell within `give_or_take`, at least half a day.
    breakfast = (number.day == begin) & loss
    day = np.where(breakfast, begin + DEAD_AT_BREAKFAST, number.day)
    slack = np.where(breakfast, np.maximum(number.slack - DEAD_AT_BREAKFAST, 0.0), number.slack)
    by = _widened(number, day, slack, loss, limit)
    after = _before(number, by, number.anchors.day)
    real = by > after
    timeless = loss & ~real
    if timeless.any():
        at = int(np.argmax(timeless))
        raise StudyError(
            f"checks, {number.anchors.names[number.code[at]]}: two looks of day {number.day[at]:g} "
            "disagree about the queens alive. Run `cohort audit` on the folder: it tells file and "
            "row."
        )
    return Runs(
        number.code[real], after[real], by[real], held[real], number.queens[real], number.day[real]
    )
