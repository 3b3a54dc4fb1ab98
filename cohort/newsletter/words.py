"""What the results say, in sentences.

In come frozen results with an open gate; out come `Saying`s: the fair pair (the same queens, both
ways) here, the other questions in `cohort.newsletter.answers`: all kinds together first, then each
kind that has a verdict, then one that nobody has tried. Every sentence is filled from the catalogue
of its language.
Never names a kind that has no verdict, never speaks of a kind beyond the last day to which it was
followed, never gives a chance for queens kept together without the one for the same queens kept
singly, and never calls one thing the cause of another unless every founding behind it was allotted
by lot.
"""

from __future__ import annotations

import pandas as pd

from cohort.base.errors import GateError
from cohort.figures.material import (
    Material,
    both_ways,
    days_to_speak_of,
    kinds_to_name,
    verdict_of,
)
from cohort.newsletter import verdicts
from cohort.newsletter.answers import ANSWERS
from cohort.newsletter.speech import Voice
from cohort.newsletter.wording import (
    Row,
    Saying,
    behind,
    caveats,
    foundings_text,
    of_row,
)
from cohort.nonparametric.followed import compared
from cohort.results.verdict_rows import Spoken
from cohort.terms.questions import AVERAGE, NEW

HALF = 0.5
"""Share of the kinds that must have been followed to the day; below it the page says so."""


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
    size = material.size
    told = [(kind.genus, kind.named, i < most) for i, kind in enumerate(kinds_to_name(material))]
    if not alone(material):
        told = [(AVERAGE, False, True), *told, (NEW, False, False)]
    out: list[Saying | None] = []
    for genus, named, whole in told:
        for make in (_fair, *ANSWERS) if whole else (_fair,):
            out.append(make(Row(material, genus, named, size), voice))
    return tuple(saying for saying in out if saying is not None)


def _fair(kind: Row, voice: Voice) -> Saying | None:
    days, size = kind.days_of("chance_per_founding"), kind.size
    if not days:
        return None
    day = days[-1]
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
    found = verdict_of(kind.material, kind.genus)
    number = verdict_of(kind.material, kind.genus, "same_queens_count")
    if kind.genus == AVERAGE or alone(kind.material):  # said once
        parts.append(voice.say("fair_arithmetic", **words))
    parts.append(verdicts.told(voice, found, "about_any", _equal(any_)))
    if count is not None and verdicts.is_finding(number):
        parts.append(verdicts.told(voice, number, "about_count", _equal(count)))
    parts += caveats(kind, voice, "colony", any_, together, apart)
    parts += _causes(kind, voice, found)
    parts += _half_followed(kind, voice, day)
    parts.append(behind(voice, kind, together, apart))
    short = voice.say(
        "fair_short",
        kind=voice.cap(voice.kind(kind.genus, kind.named)),
        lots=words["lots"],
        day=day,
        count=float(many["mean"]),
        verdict=voice.say(f"short_{verdicts.key_of(found)}"),
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
    verdict, side = (found.word, found.side) if found is not None else ("none", "")
    return Saying(
        "fair", kind.genus, kind.named, " ".join(parts), verdict, side, int(any_["foundings"]),
        tuple(kind.used), short, summary,
    )  # fmt: skip


def _equal(row: pd.Series) -> float:
    return float(row["chance_practically_equal"])


def _causes(kind: Row, voice: Voice, found: Spoken | None) -> list[str]:
    """What may be said of causes, where a way is clearly better."""
    if found is None or found.word != "clearly" or kind.genus == NEW:
        return []
    if by_lot(kind.material, kind.genus):
        return [voice.say("by_lot")]
    alone_by_lot = verdicts.by_lot_alone(kind.material, found)
    if pd.isna(alone_by_lot):
        return [voice.say("not_by_lot")]
    return [voice.say("lot_alone", chance=voice.chance(alone_by_lot))]


def _half_followed(kind: Row, voice: Voice, day: int) -> list[str]:
    """That most kinds were not followed to the day, where that is so of all kinds together."""
    told = kind.material.results.diagnosis
    if kind.genus != AVERAGE or float(told.get("followed_share", 1.0)) >= HALF:
        return []
    days = told["kind_days"].values()
    seen = sum(last >= day for last in days)
    key = "half_followed" if seen else "half_followed_none"
    return [voice.say(key, n=seen, all=len(days), day=day)]


def alone(material: Material) -> bool:
    """True when the study compares a single kind."""
    return len(material.kinds) == 1


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
