"""A plan in words and as plain values.

Comes in: a `Plan`. Goes out: sentences, rows of a table, the values of ``--json``. Never: print.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Any, Final

import pandas as pd

from cohort.plan.plan import Plan

ROWS: Final = 12
"""Divisions shown besides the efficient ones' first few."""
NUMBERS: Final = (
    "no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten",
    "eleven", "twelve",
)  # fmt: skip


def _each(frame: pd.DataFrame) -> Iterator[Any]:
    """Named rows of a frame; the stubs know no types of their columns."""
    yield from frame.itertuples()


def of_100(share: float) -> str:
    """A chance as so many of 100, never as certain."""
    if share < 0.01:
        return "under 1"
    return "over 99" if share > 0.99 else f"{int(share * 100 + 0.5)}"


def number(count: int) -> str:
    """``three`` up to twelve, then figures."""
    return NUMBERS[count] if count < len(NUMBERS) else str(count)


def _range(row: Any, name: str) -> str:
    low, high = (of_100(getattr(row, f"{name}_{end}")) for end in ("low", "high"))
    return low if low == high else f"{low} to {high}"


def _about(share: float) -> str:
    """``about 95``; ``over 99`` and ``under 1`` need no about."""
    return f"about {of_100(share)}" if 0.01 <= share <= 0.99 else of_100(share)


def rows(what: Plan) -> list[tuple[str, ...]]:
    """Divisions of the printed table, the efficient ones first and marked."""
    shown = what.table.head(max(ROWS, int(what.table["efficient"].sum()))).head(2 * ROWS)
    out: list[tuple[str, ...]] = []
    for r in _each(shown):
        narrower = "-" if math.isnan(r.narrowing) else f"{r.narrowing * 100:.0f} %"
        day = "-" if math.isnan(r.first_workers_day) else f"{r.first_workers_day:.0f}"
        out.append(
            (
                "*" if r.efficient else "",
                str(r.division),
                f"{of_100(r.at_least_one)} ({_range(r, 'at_least_one')})",
                f"{of_100(r.at_least_two)} ({_range(r, 'at_least_two')})",
                f"{r.colonies:.1f} ({r.colonies_low:.1f} to {r.colonies_high:.1f})",
                day,
                of_100(r.all_lost),
                narrower,
            )
        )
    return out


HEADINGS: Final = (
    "",
    "division",
    "at least one colony, of 100",
    "at least two, of 100",
    "colonies",
    "first workers, day",
    "all queens lost, of 100",
    "would teach",
)


def _clause(row: Any) -> str:
    return (
        f"{_about(row.at_least_one)} of 100 such sets have at least one colony on that day "
        f"(likely range {_range(row, 'at_least_one')}), {_about(row.at_least_two)} at least "
        f"two, {row.colonies:.1f} colonies on average"
    )


def _row(table: pd.DataFrame, index: int) -> Any:
    return next(_each(table.iloc[[index]]))


def sentences(what: Plan) -> tuple[str, ...]:
    """The plan in a few sentences, the same queens kept singly always beside a group."""
    table = what.table
    queens = "queen" if what.queens == 1 else "queens"
    single = table.index[[set(parts) == {1} for parts in table["parts"]]]
    whom = f"{queens} of {what.kind.name}"
    if what.assumed:
        whom = f"{queens}, not of {what.kind.name} but by general assumptions"
    out = [
        f"{number(what.queens).capitalize()} {whom}, to day {what.day}. A "
        "colony here is workers and a living mated queen."
    ]
    alone = _row(table, int(single[0]))
    if what.queens == 1:
        return (*out, f"Alone: {_clause(alone)}.")
    out.append("Read 2 + 7 x 1 as one founding of two queens and seven foundings of one queen.")
    out.append(f"Each alone: {_clause(alone)}.")
    best = _row(table, int(table["at_least_one"].to_numpy().argmax()))
    if best.division != alone.division:
        out.append(f"Divided as {best.division}, the best for at least one: {_clause(best)}.")
    most = _row(table, int(table["colonies"].to_numpy().argmax()))
    if most.division not in (best.division, alone.division):
        out.append(f"Divided as {most.division}, the most colonies: {_clause(most)}.")
    if best.division == alone.division and most.division == alone.division:
        out.append("No way of putting queens together is expected to do better.")
    return (*out, *_teaches(what))


def _teaches(what: Plan) -> tuple[str, ...]:
    table = what.table.dropna(subset="narrowing")
    if not what.compared_size or table.empty:
        return ()
    top = _row(table, int(table["narrowing"].to_numpy().argmax()))
    return (
        f"'Would teach' is how much narrower the likely range of the difference between "
        f"{number(what.compared_size)} queens together and the same queens each alone is "
        f"expected to become; most for {top.division} ({top.narrowing * 100:.0f} %).",
    )


def as_json(what: Plan) -> dict[str, Any]:
    """Everything of a plan, as plain values.

    Returns
    -------
    dict
        ``genus``, ``queens``, ``largest``, ``day``, ``general_assumptions`` (True: the same for
        every genus), ``rests_on``, ``says``,
        ``narrowing_of`` (group size of the difference), ``all_divisions`` (False when only those
        of at most two sizes were compared), ``divisions``: a list of dicts with ``division``
        (queens per founding), ``foundings``, ``efficient``, ``at_least_one``, ``at_least_two``,
        ``colonies`` (each mean, low, high; 90 %), ``all_lost``, ``first_workers_day``,
        ``narrowing`` (null where not worked out).
    """
    listed = []
    for r in _each(what.table):
        one: dict[str, Any] = {
            "division": list(r.parts),
            "foundings": int(r.foundings),
            "efficient": bool(r.efficient),
        }
        for name in ("at_least_one", "at_least_two", "colonies"):
            one[name] = {
                "mean": float(getattr(r, name)),
                "low": float(getattr(r, f"{name}_low")),
                "high": float(getattr(r, f"{name}_high")),
            }
        one["all_lost"] = float(r.all_lost)
        for name in ("first_workers_day", "narrowing"):
            value = float(getattr(r, name))
            one[name] = None if math.isnan(value) else value
        listed.append(one)
    return {
        "genus": what.kind.name,
        "queens": what.queens,
        "largest": what.largest,
        "day": what.day,
        "general_assumptions": what.assumed,
        "rests_on": list(what.says),
        "says": list(sentences(what)),
        "narrowing_of": what.compared_size,
        "all_divisions": what.whole,
        "divisions": listed,
    }
