"""What is due for one keeper, as tables of printed text.

In come a study, a day and, if the comparison settled, the draws behind its results; out come looks
due, first workers expected and overdue, and groups at risk of the foundings of one keeper. Without
draws only the looks are told, by the rhythm of the club. Never a forecast of its own: that is the
work of `cohort.forecast`.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import pandas as pd
from babel.dates import format_skeleton

from cohort.figures.material import each
from cohort.forecast.due import Due, as_of, due
from cohort.forecast.rounds import looks_due, open_foundings
from cohort.forecast.words import speaks
from cohort.history import history
from cohort.newsletter.speech import Voice, plain
from cohort.newsletter.tables import Table
from cohort.terms.voice import spoken_day

if TYPE_CHECKING:
    from cohort.outcomes.basis import Basis
    from cohort.study import Study

WHEN = ("today", "this week", "later", "winter")


@dataclass(frozen=True)
class Ahead:
    """What is due for one keeper.

    Parameters
    ----------
    on : datetime.date
        Day it is told for.
    open : int
        Foundings of the keeper still looked at.
    tables : tuple of Table
        Looks, windows, overdue foundings and groups; those with nothing in them left out.
    groups : bool
        True when a chance for queens kept together is among them.
    says : tuple of str
        What the forecast stands on.
    """

    on: dt.date
    open: int
    tables: tuple[Table, ...]
    groups: bool
    says: tuple[str, ...]


def ahead(study: Study, keeper: str, on: dt.date, basis: Basis | None, voice: Voice) -> Ahead:
    """What is due for a keeper on a day.

    Parameters
    ----------
    study : Study
        The sheets.
    keeper : str
        Sign of the keeper as it stands in the sheets.
    on : datetime.date
        Day asked about; later rows are left aside.
    basis : Basis or None
        Draws of a comparison that settled; None tells the looks by rhythm only.
    voice : Voice
        Language.

    Raises
    ------
    StudyError
        No founding of the study had been started by then.
    """
    kinds = {
        str(r.founding): voice.kind(str(r.genus), bool(r.named)) for r in each(study.foundings)
    }
    if basis is not None:
        what = due(study, on, basis)
        return _of(what.looks, keeper, voice, on, kinds, what)
    then, _ = as_of(study, on)
    looks = looks_due(then, open_foundings(then, history(then), on), on)
    return _of(looks, keeper, voice, on, kinds, None)


def _of(
    looks: pd.DataFrame, keeper: str, voice: Voice, on: dt.date, kinds: dict[str, str],
    what: Due | None,
) -> Ahead:  # fmt: skip
    mine = looks[looks["keeper"].astype(str) == keeper]
    tables, groups = [_looks(mine, voice, kinds)], False
    if what is not None:
        windows, late, crowded = (
            frame[frame["founding"].isin(set(mine["founding"]))]
            for frame in (what.windows, what.overdue, what.groups)
        )
        groups = bool(len(crowded)) or bool((windows["queens"].astype(int) > 1).any())
        tables += [
            _windows(windows[~windows["overdue"].astype(bool)], voice, kinds),
            _late(late, voice, kinds),
            _groups(crowded, voice, kinds),
        ]
    told = what.told if what is not None and len(mine) else ()
    says = speaks(voice.catalogue.language).tell(told)
    return Ahead(on, len(mine), tuple(t for t in tables if t.rows), groups, says)


def day_text(day: Any, voice: Voice) -> str:
    """'12 Jul' as the language writes it."""
    locale = voice.catalogue.locale
    return spoken_day(str(format_skeleton("MMMd", day.date(), locale=locale)), locale)


def _span(low: Any, high: Any, voice: Voice) -> str:
    return voice.say("a_span", low=day_text(low, voice), high=day_text(high, voice))


def _table(
    voice: Voice, title: str, heads: tuple[str, ...], rows: Sequence[tuple[str, ...]]
) -> Table:
    named = tuple(voice.say(head) for head in heads)
    return Table(named, tuple(rows), voice.say(title))


def _looks(looks: pd.DataFrame, voice: Voice, kinds: dict[str, str]) -> Table:
    rows = []
    for when in WHEN:
        for r in each(looks[looks["when"] == when]):
            due_on = day_text(r.due, voice)
            if r.late and when != "winter":
                due_on = voice.say("a_late", day=due_on, n=int(r.late))
            rows.append(
                (plain(r.founding), kinds[r.founding], voice.write(int(r.queens)),
                 day_text(r.last_look, voice),
                 voice.say("a_when_winter") if when == "winter" else due_on)
            )  # fmt: skip
    heads = ("t_founding", "t_kind", "t_queens", "a_last", "a_due")
    return _table(voice, "a_looks", heads, rows)


def _windows(windows: pd.DataFrame, voice: Voice, kinds: dict[str, str]) -> Table:
    rows = [
        (plain(r.founding), kinds[r.founding], voice.write(int(r.queens)),
         _span(r.low50, r.high50, voice), _span(r.low90, r.high90, voice),
         voice.percent(float(r.none_this_season)))
        for r in each(windows)
    ]  # fmt: skip
    heads = ("t_founding", "t_kind", "t_queens", "a_half", "a_range", "a_none")
    return _table(voice, "a_windows", heads, rows)


def _late(late: pd.DataFrame, voice: Voice, kinds: dict[str, str]) -> Table:
    rows = [
        (plain(r.founding), kinds[r.founding], voice.write(int(r.queens)),
         voice.percent(float(r.like_it)), voice.percent(float(r.none_this_season)),
         voice.percent(float(r.unmated)), _span(r.low90, r.high90, voice))
        for r in each(late)
    ]  # fmt: skip
    heads = ("t_founding", "t_kind", "t_queens", "a_like", "a_none", "a_unmated", "a_range")
    return _table(voice, "a_overdue", heads, rows)


def _groups(groups: pd.DataFrame, voice: Voice, kinds: dict[str, str]) -> Table:
    rows = [
        (plain(r.founding), kinds[r.founding], voice.write(int(r.queens)),
         *(voice.percent(float(c)) for c in (r.lose_one_7, r.lose_one_14, r.lose_all_7,
                                            r.lose_all_14)))
        for r in each(groups)
    ]  # fmt: skip
    heads = [voice.say(f"t_{head}") for head in ("founding", "kind", "queens")]
    heads += [voice.say(f"a_{what}", n=days) for what in ("one", "all") for days in (7, 14)]
    return Table(tuple(heads), tuple(rows), voice.say("a_groups"))
