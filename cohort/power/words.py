"""What simulated seasons say, in words and as plain values.

Comes in: a `Power`. Goes out: rows, sentences, the values of ``--json``. Never: print.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import asdict
from typing import Any, Final

import pandas as pd

from cohort.base.display import SOFT_TIE, TIE
from cohort.base.errors import StudyError
from cohort.power.run import Power
from cohort.power.wish import Wish
from cohort.terms.questions import AVERAGE, NEW
from cohort.terms.voice import ENGLISH, Voice, told, voice

ROOM: Final = "cohort.power"
"""Where the sentences are, see `cohort.terms.voice`."""


def speaks(language: str = ENGLISH) -> Voice:
    """The voice of what simulated seasons say."""
    return voice(ROOM, language)


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


def title(found: Power, own: Voice) -> str:
    """Line above the table."""
    wish = found.wish
    effect = ", ".join(f"{k} {v:g}" for k, v in wish.effect.items()) or own.say("no_effect")
    return own.say(
        "title", genera=told("genera", n=wish.genera), sizes=tuple(map(str, wish.sizes)),
        day=wish.horizon, effect=effect, contrast=wish.contrast,
    )  # fmt: skip


def headings(own: Voice) -> tuple[str, ...]:
    """What stands over the columns of `rows`."""
    keys = ("foundings_head", "seasons", "finds", "wrong_way", "width", "inside")
    return tuple(own.say(key) for key in keys)


def rows(found: Power, own: Voice) -> list[tuple[str, ...]]:
    """One row per number of foundings; Monte Carlo error behind +-."""
    out: list[tuple[str, ...]] = []
    for r in _each(found.table):
        error = "" if math.isnan(r.width_se) else own.decimal(r.width_se, 3)
        out.append(
            (
                str(r.foundings),
                str(r.seasons),
                _with_error(f"{r.power * 100:.0f}", f"{r.power_se * 100:.0f}"),
                f"{r.wrong_side * 100:.0f}",
                _with_error(own.decimal(r.width, 3), error),
                f"{r.coverage * 100:.0f}",
            )
        )
    return out


def _with_error(value: str, error: str) -> str:
    """``50 +- 3``; broken, if it must be, before the sign."""
    return f"{value}{SOFT_TIE}+-{TIE}{error}" if error else value


def sentences(found: Power, own: Voice | None = None) -> tuple[str, ...]:
    """What was found, the textbook beside it, and what the textbook leaves out."""
    own = own or speaks()
    out = [*_needed(found, own), own.say("finds_means")]
    truth = float(found.table["truth"].mean())
    out.append(
        own.say(
            "prior", low=own.decimal(found.prior_low, 2), high=own.decimal(found.prior_high, 2),
            truth=own.decimal(truth, 2),
        )
    )  # fmt: skip
    unsettled = int(found.table["unsettled"].sum())
    if unsettled:
        out.append(own.say("unsettled", n=unsettled))
    if len(found.table) == 1:
        out.append(own.say("one_number"))
    return (*out, *_beside(found, own))


def _needed(found: Power, own: Voice) -> tuple[str, ...]:
    """How many foundings the wished width takes."""
    if found.width is None:
        return ()
    width = f"{found.width:g}" if own.language == ENGLISH else own.decimal(found.width, 2)
    if found.needed is None:
        return (own.say("needed_far", width=width),)
    beyond = found.needed > int(found.table["foundings"].max())
    return (own.say("needed_beyond" if beyond else "needed", width=width, n=found.needed),)


def _beside(found: Power, own: Voice) -> tuple[str, ...]:
    book = found.textbook
    pair = own.say(
        "pair", day=found.wish.horizon, single=own.decimal(found.single, 2),
        multi=own.decimal(found.multi, 2),
    )  # fmt: skip
    if book is None:
        return (f"{pair} {own.say('no_textbook')}",)
    size = own.say(
        "textbook", events=float(book.schoenfeld_events), queens=max(found.wish.sizes),
        units=math.ceil(book.schoenfeld_subjects), events2=float(book.freedman_events),
        units2=math.ceil(book.freedman_subjects),
    )  # fmt: skip
    return (f"{pair} {size}", *leaves_out(own))


def leaves_out(own: Voice) -> tuple[str, ...]:
    """What the textbook leaves out."""
    return tuple(own.say(f"leaves_out_{number}") for number in (1, 2, 3))


def as_json(found: Power, own: Voice | None = None) -> dict[str, Any]:
    """Everything found, as plain values; sentences in a language, English if not given."""
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
        "textbook_leaves_out": list(leaves_out(own or speaks())),
        "prior_low": found.prior_low,
        "prior_high": found.prior_high,
        "same_queens_alone": found.single,
        "together": found.multi,
    }
