"""What simulated seasons say, in words and as plain values.

Comes in: a `Power`. Goes out: rows, sentences, the values of ``--json``. Never: print.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import asdict
from typing import Any, Final

import pandas as pd

from cohort.base.display import several
from cohort.base.errors import StudyError
from cohort.power.run import Power
from cohort.power.textbook import LEAVES_OUT
from cohort.power.wish import Wish
from cohort.terms.questions import AVERAGE, NEW

HEADINGS: Final = (
    "foundings",
    "seasons",
    "finds a difference, of 100",
    "wrong way, of 100",
    "width of the likely range",
    "truth inside, of 100",
)


def _each(frame: pd.DataFrame) -> Iterator[Any]:
    """Named rows of a frame; the stubs know no types of their columns."""
    yield from frame.itertuples()


def check_rest(wish: Wish, seasons: int, width: float | None) -> None:
    """Refuse what `cohort.power.wish.check` does not look at.

    Raises
    ------
    StudyError
    """
    if seasons < 1:
        raise StudyError("--seasons: at least one season must be simulated.")
    if width is not None and not width > 0:
        raise StudyError("--width: the wished width is a number above 0, such as 0.3.")
    if wish.kind not in (AVERAGE, NEW):
        raise StudyError(f"--kind: '{wish.kind}' is neither {AVERAGE} nor {NEW}.")
    if not 30 <= wish.horizon <= 400:
        raise StudyError("--day: foundings can be followed for 30 to 400 days.")
    if not 1 <= wish.look_every <= 30:
        raise StudyError("--every: looks lie 1 to 30 days apart.")
    if wish.spread < 0:
        raise StudyError("--spread: 0 (all genera alike) or more.")


def title(found: Power) -> str:
    """Line above the table."""
    wish = found.wish
    split = " and ".join(str(k) for k in wish.sizes)
    effect = ", ".join(f"{k} {v:g}" for k, v in wish.effect.items()) or "no effect named"
    return (
        f"{wish.contrast}, {wish.genera} genera, foundings of {split}, to day {wish.horizon}; "
        f"in truth: {effect}"
    )


def rows(found: Power) -> list[tuple[str, ...]]:
    """One row per number of foundings; Monte Carlo error behind +-."""
    out: list[tuple[str, ...]] = []
    for r in _each(found.table):
        error = "" if math.isnan(r.width_se) else f" +- {r.width_se:.3f}"
        out.append(
            (
                str(r.foundings),
                str(r.seasons),
                f"{r.power * 100:.0f} +- {r.power_se * 100:.0f}",
                f"{r.wrong_side * 100:.0f}",
                f"{r.width:.3f}{error}",
                f"{r.coverage * 100:.0f}",
            )
        )
    return out


def sentences(found: Power) -> tuple[str, ...]:
    """What was found, the textbook beside it, and what the textbook leaves out."""
    out = [
        "'Finds a difference': the 90 % likely range of the difference lies wholly on one side of "
        "none. +- is the error of so few simulated seasons."
    ]
    out.append(
        "The assumptions made beforehand alone, before any founding is looked at, already give a "
        f"likely range from {found.prior_low:.2f} to {found.prior_high:.2f}; the truth simulated "
        f"lies at {float(found.table['truth'].mean()):.2f}."
    )
    unsettled = int(found.table["unsettled"].sum())
    if unsettled:
        out.append(f"{several(unsettled, 'season')} left out: the comparison did not settle.")
    if found.width is not None:
        largest = int(found.table["foundings"].max())
        out.append(
            f"A likely range {found.width:g} wide takes about {found.needed} foundings"
            + (
                " (more than were tried: carried on from them)."
                if (found.needed or 0) > largest
                else "."
            )
            if found.needed is not None
            else f"A likely range {found.width:g} wide takes more than four times the foundings "
            "tried; try larger numbers."
        )
    if len(found.table) == 1:
        out.append(
            "One number of foundings was tried. For other numbers the width is taken to shrink as "
            "their square root grows."
        )
    return (*out, *_beside(found))


def _beside(found: Power) -> tuple[str, ...]:
    book = found.textbook
    pair = (
        f"the same queens each alone {found.single:.2f}, together {found.multi:.2f} (chance of at "
        f"least one colony, workers and a living queen, on day {found.wish.horizon})"
    )
    if book is None:
        return (f"The textbook has no size for {pair}.",)
    return (
        f"The textbook log-rank size for {pair}, to find it in 80 of 100 studies, a unit being "
        f"{max(found.wish.sizes)} queens: "
        f"{book.schoenfeld_events:.1f} failures in {math.ceil(book.schoenfeld_subjects)} units "
        f"(Schoenfeld 1981), {book.freedman_events:.1f} in {math.ceil(book.freedman_subjects)} "
        "(Freedman 1982).",
        *LEAVES_OUT,
    )


def as_json(found: Power) -> dict[str, Any]:
    """Everything found, as plain values."""
    table = [
        {k: (None if isinstance(v, float) and math.isnan(v) else v) for k, v in row.items()}
        for row in found.table.astype(object).to_dict("records")
    ]
    return {
        "wish": found.wish.as_dict(),
        "by_foundings": table,
        "width_slope": found.slope,
        "width_level": found.level,
        "width_wished": found.width,
        "foundings_needed": found.needed,
        "textbook": asdict(found.textbook) if found.textbook else None,
        "textbook_leaves_out": list(LEAVES_OUT),
        "prior_low": found.prior_low,
        "prior_high": found.prior_high,
        "same_queens_alone": found.single,
        "together": found.multi,
    }
