"""Advice in plain sentences, and the trade behind it.

Comes in: an `Advice` and a `Trade`. Goes out: sentences of a language. Never: a chance.
"""

from __future__ import annotations

import math
from collections import Counter
from typing import Final

from cohort.plan.advice import Advice, Parts, way
from cohort.plan.plan import ROOM, Plan
from cohort.terms.questions import EQUAL_CHANCE, EQUAL_PER_QUEEN, EQUAL_RATIO
from cohort.terms.voice import ENGLISH, Voice, voice

ONLY: Final = 0.8
"""Below this we say that we are only so sure."""


def speaks(language: str = ENGLISH) -> Voice:
    """The voice of a plan."""
    return voice(ROOM, language)


def group(size: int, own: Voice, many: int = 1) -> str:
    """``a pair``, ``two trios``, ``a group of four``."""
    key = f"named_{size}" if size in (2, 3) else "named_group"
    return own.say(key, n=many, count=own.number(many), size=own.number(size))


def named(parts: Parts, own: Voice) -> str:
    """A division as a keeper would say it: ``two trios and one queen alone``."""
    return own.listing(
        own.say("named_alone", n=many, count=own.number(many))
        if size == 1
        else group(size, own, many)
        for size, many in sorted(Counter(parts).items(), reverse=True)
    )


def doing(parts: Parts, own: Voice) -> str:
    """``house the three apart``, ``put the three together``, ``house them as ...``."""
    if way(parts) == "apart":
        return own.say("do_apart", queens=own.number(sum(parts)))
    if len(parts) == 1:
        return own.say("do_together", queens=own.number(sum(parts)))
    return own.say("do_divided", named=named(parts, own))


def _than(parts: Parts, own: Voice) -> str:
    return own.say("than_apart") if way(parts) == "apart" else named(parts, own)


def _with(parts: Parts, own: Voice) -> str:
    if way(parts) == "apart":
        return own.say("with_apart", queens=own.number(sum(parts)))
    return own.say("with_divided", named=named(parts, own))


def _sure(now: float, own: Voice) -> str:
    return own.say("only_sure" if round(now, 2) < ONLY else "sure", chance=own.percent(now))


def _earlier(before: float, own: Voice) -> str:
    return "" if math.isnan(before) else own.say("before", chance=own.percent(before))


def _both(advice: Advice, own: Voice) -> str:
    """What is wanted, of both divisions."""
    if advice.want == "one":
        value, other = own.of_100(advice.value), own.of_100(advice.other)
    else:
        places = 1 if advice.want == "many" else 0
        value, other = own.decimal(advice.value, places), own.decimal(advice.other, places)
    best, against = _with(advice.best, own), _with(advice.against, own)
    return own.say(f"both_{advice.want}", value=value, other=other, best=best, against=against)


def _margin(want: str, queens: int, own: Voice) -> str:
    if want == "one":
        count = own.decimal(100 * EQUAL_CHANCE, 0)
    elif want == "many":
        count = own.decimal(EQUAL_PER_QUEEN * queens, 2)
    else:
        count = own.decimal(100 * (EQUAL_RATIO[1] - 1), 0)
    return own.say(f"margin_{want}", count=count)


def advice_text(advice: Advice, own: Voice) -> str:
    """The advice, with how sure it is; or why there is none."""
    if advice.why_not is not None:
        return own.write(advice.why_not)
    want, best, other = advice.want, advice.best, advice.against
    if advice.alike:
        return own.say(
            "little", both=_both(advice, own), sure=_sure(advice.near, own),
            margin=_margin(want, sum(best), own), before=_earlier(advice.prior_near, own),
        )  # fmt: skip
    because = own.say("only_one") if want == "many" and way(best) == "apart" else ""
    return own.say(
        "advice", aim=own.say(f"aim_{want}"), do=doing(best, own), because=because,
        sure=_sure(advice.chance, own), than=_than(other, own),
        before=_earlier(advice.prior_chance, own),
    )  # fmt: skip


def _times(ratio: float, own: Voice) -> str:
    low, high = EQUAL_RATIO
    if low <= ratio <= high:
        return own.say("times_same")
    for word, value in (("half", 0.5), ("two", 2.0), ("three", 3.0)):
        if abs(ratio / value - 1) <= 0.05:
            return own.say(f"times_{word}")
    return own.say("times", ratio=float(ratio))


def trade_text(what: Plan, own: Voice) -> str:
    """What a group starts with and what it costs in colonies; blank without a group."""
    trade, advice = what.trade, what.advice
    if trade is None or not advice.best:
        return ""
    grouped = next(p for p in (advice.best, advice.against) if way(p) != "apart")
    mean = dict(zip(what.table["parts"], what.table["colonies"], strict=True))
    apart, together = mean[(1,) * what.queens], mean[grouped]
    gains = trade.ratio > EQUAL_RATIO[1]
    return own.say(
        "trade_but" if gains == (apart > together) else "trade_and",
        group=own.cap(group(trade.size, own)), times=_times(trade.ratio, own),
        low=float(trade.low), high=float(trade.high), queens=own.number(what.queens),
        apart=float(apart), named=named(grouped, own), n_give=own.say("gives", n=len(grouped)),
        together=float(together),
    )  # fmt: skip
