"""A plan in words and as plain values.

Comes in: a `Plan`. Goes out: sentences, rows of a table, the values of ``--json``. Never: print.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Any, Final

import pandas as pd

from cohort.plan.phrases import ASSUMED, advice_text, named, number, of_100, trade_text
from cohort.plan.plan import BROOD, GOALS, Plan
from cohort.terms.questions import EQUAL_CHANCE

ROWS: Final = 12
"""Divisions shown besides the efficient ones' first few."""


def _each(frame: pd.DataFrame) -> Iterator[Any]:
    """Named rows of a frame; the stubs know no types of their columns."""
    yield from frame.itertuples()


def _range(row: Any, name: str) -> str:
    low, high = (of_100(getattr(row, f"{name}_{end}")) for end in ("low", "high"))
    return low if low == high else f"{low} to {high}"


def _about(share: float) -> str:
    """``about 95``; ``over 99`` and ``under 1`` need no about."""
    return f"about {of_100(share)}" if 0.01 <= share <= 0.99 else of_100(share)


def _short(share: float) -> str:
    """As `of_100`, for a narrow column."""
    return of_100(share).replace("under ", "<").replace("over ", ">")


def _chance(row: Any, name: str, wide: bool) -> str:
    mean, low, high = (_short(getattr(row, f"{name}{end}")) for end in ("", "_low", "_high"))
    return f"{mean} ({low} to {high})" if wide else mean


def _average(row: Any, name: str, wide: bool) -> str:
    digits = 1 if name == "colonies" else 0
    mean, low, high = (f"{getattr(row, f'{name}{e}'):.{digits}f}" for e in ("", "_low", "_high"))
    return f"{mean} ({low} to {high})" if wide else mean


def rows(what: Plan) -> list[tuple[str, ...]]:
    """Divisions of the printed table, the efficient ones first and marked.

    The likely range stands with what is wanted, and only there.
    """
    shown = what.table.head(max(ROWS, int(what.table["efficient"].sum()))).head(2 * ROWS)
    want = what.advice.want
    out: list[tuple[str, ...]] = []
    for r in _each(shown):
        day = "-" if math.isnan(r.first_workers_day) else f"{r.first_workers_day:.0f}"
        first = f"{r.division} *" if r.efficient else str(r.division)
        one = _chance(r, "at_least_one", want == "one")
        colonies = _average(r, "colonies", want == "many")
        if want == "workers":
            strongest = _average(r, "workers_strongest", True)
            out.append((first, strongest, _average(r, "workers_in_all", False), one, colonies, day))
            continue
        taught = "-" if math.isnan(r.narrowing) else f"{r.narrowing * 100:.0f} %"
        lost = () if want == "many" else (_short(r.all_lost),)  # its range needs the room
        two = _chance(r, "at_least_two", False)
        out.append((first, one, two, colonies, day, *lost, taught))
    return out


def headings(want: str) -> tuple[str, ...]:
    """What stands over the columns of `rows`."""
    one, day = "at least\none, of\n100", "first\nworkers\non day"
    if want == "workers":
        return ("division", "workers,\nstrongest", "workers\nin all", one, "colonies", day)
    lost = () if want == "many" else ("all\nlost,\nof\n100",)
    return ("division", one, "two,\nof\n100", "colonies", day, *lost, "would\nteach")


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
        "colony here is workers and a living queen."
    ]
    alone = _row(table, int(single[0]))
    if what.queens == 1:
        return (*out, f"Alone: {_clause(alone)}.")
    if what.queens > 3:
        out.append("Read 2 + 7 x 1 as one founding of two queens and seven foundings of one queen.")
    out.append(f"Each alone: {_clause(alone)}.")
    best = _row(table, int(table["at_least_one"].to_numpy().argmax()))
    if best.division != alone.division:
        out.append(f"Divided as {best.division}, the best for at least one: {_clause(best)}.")
    most = _row(table, int(table["colonies"].to_numpy().argmax()))
    if most.division not in (best.division, alone.division):
        out.append(f"Divided as {most.division}, the most colonies: {_clause(most)}.")
    if best.division == alone.division and most.division == alone.division:
        out.append("No way of putting queens together is expected to give more colonies.")
    return tuple(text for text in (*out, *_lasts(what), *_brood(what), *_teaches(what)) if text)


def _lasts(what: Plan) -> tuple[str, ...]:
    """What becomes of the pair of divisions when a mated queen is asked for."""
    advice = what.advice
    if not advice.best:
        return ()
    by_parts = what.table.set_index("parts")
    told, rows = [], [by_parts.loc[[parts]].iloc[0] for parts in (advice.best, advice.against)]
    for parts, row in zip((advice.best, advice.against), rows, strict=True):
        low, alike, high = (
            of_100(float(row[name])) for name in ("lasting_low", "lasting", "at_least_one")
        )
        if set(parts) == {1}:  # with workers a lone queen is mated: there is nothing to doubt
            told.append(f"in {alike} of 100 for each queen alone")
        else:
            ends = f"{low} to {high}" if low != high else high
            told.append(f"in {ends} of 100 for {named(parts)} ({alike} if all die alike)")
    text = (
        "Nobody sees whether a living queen is mated, and a colony lasts only with one that is. "
        f"By which queens die first, at least one lasts {told[0]} and {told[1]}."
    )
    turned = float(rows[0]["lasting_low"]) < float(rows[1]["lasting"]) - EQUAL_CHANCE
    if set(advice.best) != {1} and advice.want == "one" and turned:
        text += " If mated queens die first, keeping them apart is the surer way."
    return (text,)


def _brood(what: Plan) -> tuple[str, ...]:
    """What is meant by workers, and what it rests on."""
    out = []
    trade = what.trade
    if what.advice.want == "workers":
        out.append(
            "Workers are counted about 30 days after the first, in foundings that are a colony on "
            f"day {what.day}; no colony counts as no workers. A smaller --day asks for earlier "
            "ones."
        )
    if trade is not None and trade.assumed and not what.assumed:
        out.append(
            "No first brood was counted both ways behind these results: what is said of workers "
            "rests on general assumptions."
        )
    return tuple(out)


def last_words(what: Plan) -> tuple[str, ...]:
    """The trade, then the advice: what a plan ends with."""
    out = (trade_text(what), advice_text(what.advice))
    told = tuple(text for text in out if text)
    return (*told, ASSUMED) if what.assumed and not what.advice.why_not else told


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
        "want": what.advice.want,
        "advice": _advice(what),
        "trade": _trade(what),
    }


def _null(value: float) -> float | None:
    return None if math.isnan(value) else float(value)


def _advice(what: Plan) -> dict[str, Any]:
    own = what.advice
    return {
        "text": advice_text(own),
        "division": list(own.best) or None,
        "against": list(own.against) or None,
        "chance": _null(own.chance),
        "prior_chance": _null(own.prior_chance),
        "chance_practically_equal": _null(own.near),
        "prior_chance_practically_equal": _null(own.prior_near),
        "little_difference": own.alike,
    }


def _trade(what: Plan) -> dict[str, Any] | None:
    own = what.trade
    if own is None:
        return None
    ratio = {"mean": own.ratio, "low": own.low, "high": own.high}
    return {"text": trade_text(what), "group": own.size, "ratio": ratio}
