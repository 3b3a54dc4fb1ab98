"""Advice in one plain sentence, and the trade behind it.

Comes in: an `Advice` and a `Trade`. Goes out: sentences. Never: a chance.
"""

from __future__ import annotations

import math
from collections import Counter
from typing import Final

from cohort.plan.advice import Advice, Parts, way
from cohort.plan.plan import Plan
from cohort.terms.questions import EQUAL_CHANCE, EQUAL_PER_QUEEN, EQUAL_RATIO

NUMBERS: Final = (
    "no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten",
    "eleven", "twelve",
)  # fmt: skip
AIMS: Final = {
    "one": "For at least one colony",
    "many": "For as many colonies as possible",
    "workers": "For a strong colony soon",
}
ONLY: Final = 0.8
"""Below this we say that we are only so sure."""
ASSUMED: Final = "This is what general assumptions say; no sheet stands behind it."


def number(count: int) -> str:
    """``three`` up to twelve, then figures."""
    return NUMBERS[count] if count < len(NUMBERS) else str(count)


def percent(share: float) -> str:
    """``87 %``; never as certain."""
    if share < 0.01:
        return "less than 1 %"
    return "more than 99 %" if share > 0.99 else f"{int(share * 100 + 0.5)} %"


def of_100(share: float) -> str:
    """A chance as so many of 100, never as certain."""
    if share < 0.01:
        return "under 1"
    return "over 99" if share > 0.99 else f"{int(share * 100 + 0.5)}"


def group(size: int, many: int = 1) -> str:
    """``pair``, ``trio``, ``group of four``, and several of them."""
    s = "" if many == 1 else "s"
    short = {2: "pair", 3: "trio"}
    return f"{short[size]}{s}" if size in short else f"group{s} of {number(size)}"


def named(parts: Parts) -> str:
    """A division as a keeper would say it: ``two trios and one queen alone``."""
    told = []
    for size, many in sorted(Counter(parts).items(), reverse=True):
        if size == 1:
            told.append(f"{number(many)} queen{'' if many == 1 else 's'} alone")
        else:
            told.append(f"{'a' if many == 1 else number(many)} {group(size, many)}")
    return told[0] if len(told) == 1 else f"{', '.join(told[:-1])} and {told[-1]}"


def _do(parts: Parts) -> str:
    queens = number(sum(parts))
    if way(parts) == "apart":
        return f"house the {queens} apart"
    return f"put the {queens} together" if len(parts) == 1 else f"house them as {named(parts)}"


def _than(parts: Parts) -> str:
    return "keeping them apart" if way(parts) == "apart" else named(parts)


def _with(parts: Parts) -> str:
    return f"with the {number(sum(parts))} apart" if way(parts) == "apart" else f"as {named(parts)}"


def _sure(now: float) -> str:
    return f"we are {'only ' if round(now, 2) < ONLY else ''}{percent(now)} sure"


def _earlier(before: float) -> str:
    if math.isnan(before):
        return ""
    return f" (before the season we would have said {percent(before)})"


def _both(own: Advice) -> str:
    """What is wanted, of both divisions."""
    best, other = _with(own.best), _with(own.against)
    if own.want == "one":
        return (
            f"{of_100(own.value)} of 100 such sets have at least one colony {best}, "
            f"{of_100(own.other)} of 100 {other}"
        )
    if own.want == "many":
        return f"{own.value:.1f} colonies on average {best}, {own.other:.1f} {other}"
    return (
        f"about {own.value:.0f} workers in the strongest colony {best}, about {own.other:.0f} "
        f"{other}"
    )


def _margin(want: str, queens: int) -> str:
    if want == "one":
        return f"{100 * EQUAL_CHANCE:.0f} of 100"
    if want == "many":
        return f"{EQUAL_PER_QUEEN * queens:.2g} colonies"
    return f"{100 * (EQUAL_RATIO[1] - 1):.0f} %"


def advice_text(advice: Advice) -> str:
    """The advice in one sentence, with how sure it is; or why there is none."""
    if advice.why_not:
        return advice.why_not
    want, best, other = advice.want, advice.best, advice.against
    if advice.alike:
        return (
            f"It makes little difference: {_both(advice)}, and "
            f"{_sure(advice.near)} that the two lie within {_margin(want, sum(best))} of each "
            f"other{_earlier(advice.prior_near)}."
        )
    only_one = ", for a group can give only one colony"
    because = only_one if want == "many" and way(best) == "apart" else ""
    return (
        f"{AIMS[want]}, {_do(best)}{because}: {_sure(advice.chance)} that beats "
        f"{_than(other)}{_earlier(advice.prior_chance)}."
    )


def _times(ratio: float) -> str:
    low, high = EQUAL_RATIO
    if low <= ratio <= high:
        return "as many workers as one queen"
    for word, value in (("half", 0.5), ("twice", 2.0), ("three times", 3.0)):
        if abs(ratio / value - 1) <= 0.05:
            return f"{word} the workers of one queen"
    return f"{ratio:.1f} times the workers of one queen"


def trade_text(what: Plan) -> str:
    """What a group starts with and what it costs in colonies; blank without a group."""
    trade, advice = what.trade, what.advice
    if trade is None or not advice.best:
        return ""
    grouped = next(p for p in (advice.best, advice.against) if way(p) != "apart")
    mean = dict(zip(what.table["parts"], what.table["colonies"], strict=True))
    apart, together = mean[(1,) * what.queens], mean[grouped]
    gains = trade.ratio > EQUAL_RATIO[1]
    joined = "but" if gains == (apart > together) else "and"
    return (
        f"A {group(trade.size)} starts with about {_times(trade.ratio)} (likely range "
        f"{trade.low:.1f} to {trade.high:.1f} times), {joined} {number(what.queens)} containers "
        f"give {apart:.1f} colonies on average, {named(grouped)} {together:.1f}."
    )
