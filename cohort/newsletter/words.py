"""What the results say, in sentences.

In come frozen results with an open gate; out come `Saying`s: the fair pair (the same queens, both
ways) here, the other questions in `cohort.newsletter.answers`, kind by kind, all kinds together
after them. Every sentence is filled from the catalogue of its language.
Never speaks beyond the last day to which at least eight foundings of each way were followed, never
gives a chance for queens kept together without the one for the same queens kept singly, and never
calls one thing the cause of another unless every founding behind it was allotted by lot and the
kind has enough of its own.
"""

from __future__ import annotations

import pandas as pd

from cohort.counts import headline_size
from cohort.errors import GateError
from cohort.figures.material import Material, both_ways, days_to_speak_of, kinds_in_order
from cohort.followed import WAYS, compared
from cohort.newsletter.answers import ANSWERS
from cohort.newsletter.speech import Voice
from cohort.newsletter.wording import (
    Row,
    Saying,
    behind,
    caveats,
    foundings_text,
    judge,
    of_row,
    verdict_of,
)
from cohort.terms.questions import AVERAGE, NEW

OWN = 4
"""Foundings of each way that a kind must have before a cause is named."""


def can_compare(material: Material) -> bool:
    """True when the page may speak of chances at all."""
    return (
        material.settled
        and both_ways(material.history.foundings)
        and bool(days_to_speak_of(material, "chance_per_founding"))
    )


def sayings(material: Material, voice: Voice, *, most: int = 8) -> tuple[Saying, ...]:
    """Everything the results say, in printing order.

    Parameters
    ----------
    material : Material
        Results, history and study.
    voice : Voice
        Language.
    most : int
        Kinds that are spoken of at length; the others get the fair pair only.

    Raises
    ------
    GateError
        When the comparison has not settled.
    """
    if not material.settled:
        raise GateError("The comparison has not settled.", material.results.diagnosis)
    if not can_compare(material):
        return ()
    size = headline_size(material.history.foundings)
    kinds = kinds_in_order(material.history.foundings)
    told = [(kind.genus, kind.named, i < most) for i, kind in enumerate(kinds)]
    if len(kinds) > 1:
        told += [(AVERAGE, False, True), (NEW, False, False)]
    days: dict[str, list[int]] = {}
    out: list[Saying | None] = []
    for genus, named, whole in told:
        for make in (_fair, *ANSWERS) if whole else (_fair,):
            out.append(make(Row(material, genus, named, size, days=days), voice))
    return tuple(saying for saying in out if saying is not None)


def _fair(kind: Row, voice: Voice) -> Saying | None:
    day = kind.days_of("chance_per_founding")[-1]
    size = kind.size
    together = kind.row("chance_per_founding", "multi", size, day)
    apart = kind.row("at_least_one_from_same_queens", "single", size, day)
    many = kind.row("colonies_from_same_queens", "single", size, day)
    any_ = kind.row("same_queens_any", "difference", size, day)
    count = kind.row("same_queens_count", "difference", size, day)
    if together is None or apart is None or many is None or any_ is None:
        return None
    words = {
        "k": voice.word(size),
        "K": voice.cap(voice.word(size)),
        "lots": voice.group(size),
        "tubes": voice.say(housing(kind.material)),
        "day": day,
    }
    parts = [
        voice.say("fair_head", **words),
        voice.say("fair_together", **words, **of_row(together)),
        voice.say("fair_apart", **words, **of_row(apart)),
        voice.say("fair_count", mean=float(many["mean"]), low=float(many["low"]),
                  high=float(many["high"])),
    ]  # fmt: skip
    verdict, side = judge(any_)
    if count is not None and judge(count) == (verdict, side):
        parts.append(verdict_of(voice, "verdict_both", any_, count))
    else:
        parts.append(verdict_of(voice, "verdict_any", any_))
        parts += [verdict_of(voice, "verdict_count", count)] if count is not None else []
    parts += _why(kind, voice, verdict, any_, together, apart)
    parts.append(behind(voice, kind, together, apart))
    short = voice.say(
        "fair_short",
        kind=voice.cap(voice.kind(kind.genus, kind.named)),
        lots=words["lots"],
        day=day,
        count=float(many["mean"]),
        verdict=voice.say(f"short_{verdict}_{side}" if side else f"short_{verdict}"),
        single=foundings_text(voice, int(apart["foundings"])),
        multi=foundings_text(voice, int(together["foundings"])),
        **of_row(together, "together"),
        **of_row(apart, "apart"),
    )
    summary = voice.say(
        "fair_summary", lots=words["lots"], day=day, together=of_row(together)["mean"],
        apart=of_row(apart)["mean"], single=int(apart["foundings"]),
        multi=int(together["foundings"]),
    )  # fmt: skip
    return Saying(
        "fair", kind.genus, kind.named, " ".join(parts), verdict, side, int(any_["foundings"]),
        tuple(kind.used), short, summary,
    )  # fmt: skip


def _why(kind: Row, voice: Voice, verdict: str, *rows: pd.Series) -> list[str]:
    """What may be said of causes, and of what was assumed beforehand."""
    parts = caveats(voice, *rows)
    if verdict == "clear" and kind.genus != NEW:
        parts.append(voice.say(cause(kind.material, kind.genus), few=OWN))
    return parts


def cause(material: Material, genus: str) -> str:
    """Catalogue key of what may be said of a cause.

    ``by_lot`` only where every founding behind the sentence was allotted by lot and the kind has
    at least `OWN` foundings of each way of its own; else ``by_lot_few`` or ``not_by_lot``.
    """
    if not by_lot(material, genus):
        return "not_by_lot"
    ways = _inside(material, genus)["arm"].value_counts()
    return "by_lot" if min(ways.get(way, 0) for way in WAYS) >= OWN else "by_lot_few"


def by_lot(material: Material, genus: str) -> bool:
    """True when every compared founding of a kind (or of all kinds) was allotted by lot."""
    inside = _inside(material, genus)
    return bool(len(inside)) and bool((inside["assigned"] == "random").all())


def _inside(material: Material, genus: str) -> pd.DataFrame:
    """Compared foundings of a kind, or of all kinds."""
    inside = compared(material.history.foundings)
    return inside if genus in (AVERAGE, NEW) else inside[inside["genus"] == genus]


def housing(material: Material) -> str:
    """Catalogue key of what the queens were kept in."""
    used = {str(word) for word in material.history.foundings["housing"] if str(word)}
    return "tubes" if used <= {"test-tube", "vial", "tube"} else "containers"
