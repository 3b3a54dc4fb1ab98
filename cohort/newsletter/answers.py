"""Answers to the other questions: queens alive, first workers, queens left, colonies, brood.

In comes one kind; out comes one `Saying` per question, or None when its numbers are not there or
are carried over from other kinds. Never speaks of causes: most of these answers hold for those that
lived or had workers.
"""

from __future__ import annotations

from collections.abc import Callable

import pandas as pd

from cohort.base.frames import held
from cohort.figures.material import Material, verdict_of
from cohort.newsletter import verdicts
from cohort.newsletter.speech import Voice
from cohort.newsletter.wording import (
    Row,
    Saying,
    amount,
    behind,
    caveats,
    fair_tail,
    of_row,
)
from cohort.nonparametric import followed


def _pair(kind: Row, quantity: str) -> tuple[int, pd.Series, pd.Series] | None:
    """Latest day to speak of with the rows of both ways."""
    for day in reversed(kind.days_of(quantity)):
        single = kind.row(quantity, "single", 1, day)
        multi = kind.row(quantity, "multi", kind.size, day)
        if single is not None and multi is not None:
            return day, single, multi
    return None


def _contrast(
    kind: Row, voice: Voice, quantity: str, day: int
) -> tuple[str, str, str, list[pd.Series]]:
    """Verdict, side, sentence and row of a difference; blank and none when there is none."""
    row = kind.row(quantity, "difference", kind.size, day)
    found = verdict_of(kind.material, kind.genus, quantity)
    if row is None or found is None or found.day != day or not verdicts.is_finding(found):
        return "", "", "", []
    said = verdicts.told(voice, found, float(row["chance_practically_equal"]))
    return found.word, found.side, said, [row]


def _made(kind: Row, topic: str, parts: list[str], foundings: int, verdict: str = "",
          side: str = "") -> Saying:  # fmt: skip
    text = " ".join(part for part in parts if part)
    return Saying(topic, kind.genus, kind.named, text, verdict, side, foundings, tuple(kind.used))


def _survival(kind: Row, voice: Voice) -> Saying | None:
    found = _pair(kind, "share_alive")
    if found is None:
        return None
    day, single, multi = found
    verdict, side, said, more = _contrast(kind, voice, "share_alive", day)
    text = voice.say("survival", day=day, k=voice.word(kind.size), **of_row(single, "single"),
                     **of_row(multi, "multi"))  # fmt: skip
    count = int(single["foundings"]) + int(multi["foundings"])
    parts = [text, said, *caveats(kind, voice, "queen_survival", single, multi, *more),
             behind(voice, kind, multi, single)]  # fmt: skip
    return _made(kind, "survival", parts, count, verdict, side)


def _first_worker(kind: Row, voice: Voice) -> Saying | None:
    found = _pair(kind, "chance_by_day")
    if found is None:
        return None
    day, single, multi = found
    text = voice.say("first_worker", day=day, lots=voice.group(kind.size),
                     **of_row(single, "single"), **of_row(multi, "multi"),
                     tail=fair_tail(kind, voice))  # fmt: skip
    early = kind.undated("median_day", "single", 1)
    late = kind.undated("median_day", "multi", kind.size)
    when = ""
    if early is not None and late is not None:
        when = voice.say(
            "median_day", k=voice.word(kind.size),
            **{n: round(v) for n, v in (amount(early, "single") | amount(late, "multi")).items()},
        )  # fmt: skip
    count = int(single["foundings"]) + int(multi["foundings"])
    told = caveats(kind, voice, "first_worker", single, multi)
    parts = [text, when, *told, behind(voice, kind, multi, single)]
    return _made(kind, "first_worker", parts, count)


def _left(kind: Row, voice: Voice) -> Saying | None:
    table = held(kind.material.results, "comparisons")
    days = table.loc[table["quantity"] == "chance_one_left", "day"].dropna().astype(int)
    # days here run from the first worker: the founding itself must have been followed that far
    last = kind.days_of("chance_per_founding")[-1] - typical_first(kind.material, kind.genus)
    for day in sorted((int(d) for d in days.unique() if d <= last), reverse=True):
        one = kind.row("chance_one_left", "multi", kind.size, day)
        none = kind.row("chance_none_left", "multi", kind.size, day)
        several = kind.row("chance_several_left", "multi", kind.size, day)
        if one is None or none is None or several is None:
            continue
        text = voice.say(
            "left", lots=voice.group(kind.size), day=day, **of_row(one, "one"),
            **of_row(none, "none"), **of_row(several, "several"), tail=fair_tail(kind, voice),
        )  # fmt: skip
        count = int(one["foundings"])
        told = behind(voice, kind, one)
        return _made(
            kind, "left", [text, *caveats(kind, voice, "queens_after_workers", one), told], count
        )
    return None


def typical_first(material: Material, genus: str = "") -> float:
    """Middle day on which first workers were seen in groups; 0 when none were."""
    return followed.typical_first(material.history.foundings, genus)


def _colony(kind: Row, voice: Voice) -> Saying | None:
    found = _pair(kind, "colonies_per_queen")
    if found is None:
        return None
    day, single, multi = found
    verdict, side, said, more = _contrast(kind, voice, "colonies_per_queen", day)
    text = voice.say("colony", day=day, k=voice.word(kind.size), **of_row(single, "single"),
                     **of_row(multi, "multi"))  # fmt: skip
    count = int(single["foundings"]) + int(multi["foundings"])
    parts = [text, said, *caveats(kind, voice, "colony", single, multi, *more),
             behind(voice, kind, multi, single)]  # fmt: skip
    return _made(kind, "colony", parts, count, verdict, side)


def _brood(kind: Row, voice: Voice) -> Saying | None:
    single = kind.undated("workers_after_30_days", "single", 1)
    multi = kind.undated("workers_after_30_days", "multi", kind.size)
    if single is None or multi is None:
        return None
    whole = {n: round(v) for n, v in (amount(single, "single") | amount(multi, "multi")).items()}
    text = voice.say("brood", k=voice.word(kind.size), **whole)
    count = int(single["foundings"]) + int(multi["foundings"])
    return _made(
        kind,
        "brood",
        [
            text,
            *([voice.say("brood_winter")] if kind.material.history.winters else []),
            *caveats(kind, voice, "first_brood", single, multi),
            behind(voice, kind, multi, single),
        ],
        count,
    )


ANSWERS: tuple[Callable[[Row, Voice], Saying | None], ...] = (
    _survival,
    _first_worker,
    _left,
    _colony,
    _brood,
)
"""In printing order, after the fair pair."""
