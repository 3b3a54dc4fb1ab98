"""A plan in words and as plain values.

Comes in: a `Plan`. Goes out: sentences, rows of a table, the values of ``--json``. Never: print.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Any, Final

import pandas as pd

from cohort.base.display import SOFT_TIE, TIE, tied
from cohort.plan.phrases import advice_text, named, speaks, trade_text
from cohort.plan.plan import BROOD, GOALS, Plan
from cohort.terms.questions import EQUAL_CHANCE
from cohort.terms.voice import Voice

ROWS: Final = 12
"""Divisions shown besides the efficient ones' first few."""


def _each(frame: pd.DataFrame) -> Iterator[Any]:
    """Named rows of a frame; the stubs know no types of their columns."""
    yield from frame.itertuples()


def _range(row: Any, name: str, own: Voice) -> str:
    low, high = (own.of_100(getattr(row, f"{name}_{end}")) for end in ("low", "high"))
    return low if low == high else own.say("to", low=low, high=high)


def _cell(mean: str, low: str, high: str, own: Voice) -> str:
    """A number with its likely range, which may go onto the next line."""
    if mean == low == high:
        return mean
    return f"{mean}{SOFT_TIE}{tied(own.say('range', low=low, high=high))}"


def _chance(row: Any, name: str, wide: bool, own: Voice) -> str:
    ends = (own.short_of_100(getattr(row, f"{name}{end}")) for end in ("", "_low", "_high"))
    mean, low, high = ends
    return _cell(mean, low, high, own) if wide else mean


def _average(row: Any, name: str, wide: bool, own: Voice) -> str:
    digits = 1 if name == "colonies" else 0
    ends = (own.decimal(getattr(row, f"{name}{e}"), digits) for e in ("", "_low", "_high"))
    mean, low, high = ends
    return _cell(mean, low, high, own) if wide else mean


def _division(row: Any) -> str:
    """``2 + 7 x 1 *``; broken, if it must be, before a plus."""
    text = f"{row.division} *" if row.efficient else str(row.division)
    return tied(text).replace(f"{TIE}+", f"{SOFT_TIE}+")


def rows(what: Plan, own: Voice) -> list[tuple[str, ...]]:
    """Divisions of the printed table, the efficient ones first and marked.

    The likely range stands with what is wanted, and only there.
    """
    shown = what.table.head(max(ROWS, int(what.table["efficient"].sum()))).head(2 * ROWS)
    want = what.advice.want
    out: list[tuple[str, ...]] = []
    for r in _each(shown):
        day = "-" if math.isnan(r.first_workers_day) else f"{r.first_workers_day:.0f}"
        one = _chance(r, "at_least_one", want == "one", own)
        colonies = _average(r, "colonies", want == "many", own)
        if want == "workers":
            strongest = _average(r, "workers_strongest", True, own)
            all_of_them = _average(r, "workers_in_all", False, own)
            out.append((_division(r), strongest, all_of_them, one, colonies, day))
            continue
        taught = "-" if math.isnan(r.narrowing) else tied(f"{r.narrowing * 100:.0f} %")
        lost = () if want == "many" else (own.short_of_100(r.all_lost),)  # its range needs the room
        two = _chance(r, "at_least_two", False, own)
        out.append((_division(r), one, two, colonies, day, *lost, taught))
    return out


def headings(want: str, own: Voice) -> tuple[str, ...]:
    """What stands over the columns of `rows`."""
    if want == "workers":
        keys = ["division", "strongest", "in_all", "at_least_one", "colonies", "first_day"]
    else:
        lost = [] if want == "many" else ["all_lost"]
        keys = ["division", "at_least_one", "at_least_two", "colonies", "first_day", *lost, "teach"]
    return tuple(own.say(key) for key in keys)


def _clause(row: Any, own: Voice) -> str:
    return own.say(
        "clause", one=own.of_100(row.at_least_one), range=_range(row, "at_least_one", own),
        two=own.of_100(row.at_least_two), colonies=float(row.colonies),
    )  # fmt: skip


def _row(table: pd.DataFrame, index: int) -> Any:
    return next(_each(table.iloc[[index]]))


def first_words(what: Plan, own: Voice | None = None) -> tuple[str, ...]:
    """The answer: the advice, how sure it is, and the trade behind it."""
    own = own or speaks()
    out = [advice_text(what.advice, own), trade_text(what, own)]
    if what.assumed and what.advice.why_not is None:
        out.insert(1, own.say("assumed"))
    return tuple(text for text in out if text)


def sentences(what: Plan, own: Voice | None = None) -> tuple[str, ...]:
    """What stands behind the answer, the same queens kept singly always beside a group."""
    own = own or speaks()
    table = what.table
    single = table.index[[set(parts) == {1} for parts in table["parts"]]]
    out = [own.say("a_colony", day=what.day)]
    alone = _row(table, int(single[0]))
    if what.queens == 1:
        return (*out, own.say("alone", clause=_clause(alone, own)))
    if what.queens > 3:
        out.append(own.say("read_as"))
    out.append(own.say("each_alone", clause=_clause(alone, own)))
    best = _row(table, int(table["at_least_one"].to_numpy().argmax()))
    if best.division != alone.division:
        out.append(own.say("best", division=tied(best.division), clause=_clause(best, own)))
    most = _row(table, int(table["colonies"].to_numpy().argmax()))
    if most.division not in (best.division, alone.division):
        out.append(own.say("most", division=tied(most.division), clause=_clause(most, own)))
    if best.division == alone.division and most.division == alone.division:
        out.append(own.say("no_gain"))
    return (*out, *_lasts(what, own), *_brood(what, own), *_teaches(what, own))


def _lasts(what: Plan, own: Voice) -> tuple[str, ...]:
    """What becomes of the pair of divisions when a mated queen is asked for."""
    advice = what.advice
    if not advice.best:
        return ()
    by_parts = what.table.set_index("parts")
    told, rows = [], [by_parts.loc[[parts]].iloc[0] for parts in (advice.best, advice.against)]
    for parts, row in zip((advice.best, advice.against), rows, strict=True):
        low, alike, high = (
            own.of_100(float(row[name])) for name in ("lasting_low", "lasting", "at_least_one")
        )
        if set(parts) == {1}:  # with workers a lone queen is mated: there is nothing to doubt
            told.append(own.say("mated_alone", alike=alike))
        else:
            ends = own.say("to", low=low, high=high) if low != high else high
            words = named(parts, own)
            told.append(own.say("mated_group", ends=ends, named=words, alike=alike))
    out = [own.say("mated", first=told[0], second=told[1])]
    turned = float(rows[0]["lasting_low"]) < float(rows[1]["lasting"]) - EQUAL_CHANCE
    if set(advice.best) != {1} and advice.want == "one" and turned:
        out.append(own.say("mated_turned"))
    return (" ".join(out),)


def _brood(what: Plan, own: Voice) -> tuple[str, ...]:
    """What is meant by workers, and what it rests on."""
    out = []
    trade = what.trade
    if what.advice.want == "workers":
        out.append(own.say("workers_counted", day=what.day))
    if trade is not None and trade.assumed and not what.assumed:
        out.append(own.say("workers_assumed"))
    return tuple(out)


def _teaches(what: Plan, own: Voice) -> tuple[str, ...]:
    table = what.table.dropna(subset="narrowing")
    if not what.compared_size or table.empty:
        return ()
    top = _row(table, int(table["narrowing"].to_numpy().argmax()))
    out = own.say(
        "teaches", division=tied(top.division), size=own.number(what.compared_size),
        share=own.percent(top.narrowing),
    )  # fmt: skip
    if what.advice.want == "workers":  # whose table has no room for that column
        return (out,)
    return (f"{out} {own.say('teach_column')}",)


def as_json(what: Plan, own: Voice | None = None) -> dict[str, Any]:
    """Everything of a plan, as plain values; sentences in a language, English if not given.

    Returns
    -------
    dict
        ``genus``, ``queens``, ``largest``, ``day``, ``general_assumptions`` (True: the same for
        every genus), ``rests_on``, ``says``,
        ``narrowing_of`` (group size of the difference), ``all_divisions`` (False when only those
        of at most two sizes were compared), ``divisions``: a list of dicts with ``division``
        (queens per founding), ``foundings``, ``efficient``, ``at_least_one``, ``at_least_two``,
        ``colonies``, ``workers_strongest``, ``workers_in_all`` (each mean, low, high; 90 %),
        ``lasting`` (chance of at least one colony with a mated queen: ``alike``, mated and unmated
        dying alike, and ``mated_first``), ``all_lost``, ``first_workers_day``, ``narrowing`` (null
        where not worked out).
        ``want``, and ``advice``: a dict with ``text``, ``division`` and ``against`` (queens per
        founding, null without advice), ``chance`` that it beats the other, ``prior_chance``
        (before the season; null by general assumptions alone), ``chance_practically_equal``,
        ``prior_chance_practically_equal`` and ``little_difference``. ``trade``: ``text``,
        ``group``, and ``ratio`` of first workers against one queen (mean, low, high); null where
        nothing can be grouped.
    """
    own = own or speaks()
    listed = []
    for r in _each(what.table):
        one: dict[str, Any] = {
            "division": list(r.parts),
            "foundings": int(r.foundings),
            "efficient": bool(r.efficient),
        }
        for name in (*GOALS, *BROOD):
            one[name] = {
                "mean": float(getattr(r, name)),
                "low": float(getattr(r, f"{name}_low")),
                "high": float(getattr(r, f"{name}_high")),
            }
        one["lasting"] = {"alike": float(r.lasting), "mated_first": float(r.lasting_low)}
        one["all_lost"] = float(r.all_lost)
        for name in ("first_workers_day", "narrowing"):
            one[name] = _null(getattr(r, name))
        listed.append(one)
    return {
        "genus": what.kind.named(own),
        "queens": what.queens,
        "largest": what.largest,
        "day": what.day,
        "general_assumptions": what.assumed,
        "rests_on": list(own.tell(what.told)),
        "says": list(sentences(what, own)),
        "narrowing_of": what.compared_size,
        "all_divisions": what.whole,
        "divisions": listed,
        "want": what.advice.want,
        "advice": _advice(what, own),
        "trade": _trade(what, own),
    }


def _null(value: float) -> float | None:
    return None if math.isnan(value) else float(value)


def _advice(what: Plan, own: Voice) -> dict[str, Any]:
    found = what.advice
    return {
        "text": advice_text(found, own),
        "division": list(found.best) or None,
        "against": list(found.against) or None,
        "chance": _null(found.chance),
        "prior_chance": _null(found.prior_chance),
        "chance_practically_equal": _null(found.near),
        "prior_chance_practically_equal": _null(found.prior_near),
        "little_difference": found.alike,
    }


def _trade(what: Plan, own: Voice) -> dict[str, Any] | None:
    found = what.trade
    if found is None:
        return None
    ratio = {"mean": found.ratio, "low": found.low, "high": found.high}
    return {"text": trade_text(what, own), "group": found.size, "ratio": ratio}
