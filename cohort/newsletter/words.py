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
from cohort.history.winters import usual_winter
from cohort.newsletter import verdicts
from cohort.newsletter.answers import ANSWERS
from cohort.newsletter.speech import Voice
from cohort.newsletter.wording import (
    Row,
    Saying,
    amount,
    behind,
    caveats,
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
    """The same queens both ways: the lead of the page, or the one for a keeper of a kind."""
    days, size = kind.days_of("chance_per_founding"), kind.size
    if not days:
        return None
    day = days[-1]
    together = kind.row("chance_per_founding", "multi", size, day)
    apart = kind.row("at_least_one_from_same_queens", "single", size, day)
    many = kind.row("colonies_from_same_queens", "single", size, day)
    any_ = kind.row("same_queens_any", "difference", size, day)
    if together is None or apart is None or many is None or any_ is None:
        return None
    found = verdict_of(kind.material, kind.genus)
    pair = of_row(together, "together") | of_row(apart, "apart")
    if kind.genus == AVERAGE or alone(kind.material):
        head, named = _lead(kind, voice, day, pair, many), False
    else:
        named = True
        head = _to_a_keeper(kind, voice, day, pair, many, found)
    parts = [
        head,
        *verdicts.how_sure(voice, found, float(any_["chance_practically_equal"]), named=named),
        *caveats(kind, voice, "colony", any_, together, apart),
        *_causes(kind, voice, found),
        behind(voice, kind, together, apart),
    ]
    verdict, side = (found.word, found.side) if found is not None else ("none", "")
    behind_it = f"{int(apart['foundings'])} + {int(together['foundings'])}"
    if kind.genus == NEW:
        behind_it = "–"  # nobody has founded with one
    cells = (
        voice.cap(voice.kind(kind.genus, kind.named)),
        verdicts.cell(voice, found),
        "–" if found is None or not found.said else _sure(voice, found, any_),
        voice.say("t_range", **of_row(together)),
        voice.say("t_range", **of_row(apart)),
        voice.decimal(float(many["mean"])),
        voice.write(day),
        behind_it,
    )
    return Saying(
        "fair", kind.genus, kind.named, " ".join(parts), verdict, side, int(any_["foundings"]),
        tuple(kind.used), head, cells,
    )  # fmt: skip


def _sure(voice: Voice, found: Spoken, row: pd.Series) -> str:
    """How sure we are of the word that is said, in percent."""
    same = found.word == "same"
    return voice.percent(float(row["chance_practically_equal"]) if same else found.sure)


def _lead(kind: Row, voice: Voice, day: int, pair: dict[str, int], many: pd.Series) -> str:
    """What became of the same queens both ways, and what a group can give at most."""
    size, tubes = kind.size, voice.say(f"{housing(kind.material)}s")
    numbers = {**pair, **amount(many, "count")}
    numbers["count"] = numbers.pop("mean_count")
    numbers |= {"together": pair["mean_together"], "apart": pair["mean_apart"]}
    told = (
        voice.say("lead_pair", k=voice.word(size), lots=voice.group(size), day=day, **numbers),
        after_winter(kind.material, voice, day),
        voice.say("fair_arithmetic", k=voice.word(size), tubes=tubes),
    )  # fmt: skip
    return " ".join(text for text in told if text)


def after_winter(material: Material, voice: Voice, day: int) -> str:
    """That a day lies after the first winter rest of a new founding; blank where it does not."""
    names = [str(name) for name in compared(material.history.foundings)["founding"]]
    winter = usual_winter(material.history, names)
    if winter is None or day < sum(winter):
        return ""
    return voice.say("lead_winter", day=day, ends=int(sum(winter)))


def _to_a_keeper(
    kind: Row, voice: Voice, day: int, pair: dict[str, int], many: pd.Series, found: Spoken | None
) -> str:
    """What a keeper who has caught queens of this kind would do, and what speaks for it."""
    so = verdicts.word(voice, found)
    if found is not None and found.word in verdicts.TO_DO:
        so = f"{voice.say(f'house_{found.side}')} {so}"
    elif found is not None and found.word == "same":
        so = voice.say("house_same_more" if float(many["low"]) > 1 else "house_same")
    queens = voice.some_queens(kind.size, kind.genus, kind.named)
    ask = voice.cap(voice.say("kind_lead", queens=queens, so=so))
    told = voice.say("kind_pair", lots=voice.group(kind.size), day=day, count=float(many["mean"]),
                     together=pair["mean_together"], apart=pair["mean_apart"])  # fmt: skip
    return f"{ask} {told}"


def _causes(kind: Row, voice: Voice, found: Spoken | None) -> list[str]:
    """What may be said of causes, where a way is clearly better."""
    if found is None or found.word != "clearly" or kind.genus == NEW:
        return []
    if kind.genus != AVERAGE and not alone(kind.material) and _said_of_all(kind.material):
        return []
    if by_lot(kind.material, kind.genus):
        return [voice.say("by_lot")]
    alone_by_lot = verdicts.by_lot_alone(kind.material, found)
    if pd.isna(alone_by_lot):
        return [voice.say("not_by_lot")]
    if kind.genus == AVERAGE:  # said among what the page would be under other assumptions
        return []
    return [voice.say("sure_lot", lot=voice.chance(alone_by_lot))]


def _said_of_all(material: Material) -> bool:
    """Whether the lead says that lots were drawn for every founding there is."""
    whole = verdict_of(material, AVERAGE)
    return whole is not None and whole.word == "clearly" and by_lot(material, AVERAGE)


def half_followed(material: Material, voice: Voice) -> str:
    """That most kinds were not followed to the day that is spoken of; blank where they were."""
    told = material.results.diagnosis
    days = days_to_speak_of(material, "chance_per_founding")
    if alone(material) or not days or float(told.get("followed_share", 1.0)) >= HALF:
        return ""
    last = told["kind_days"].values()
    seen = sum(day >= days[-1] for day in last)
    key = "half_followed" if seen else "half_followed_none"
    return voice.say(key, n=seen, all=len(last), day=days[-1])


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
    """Catalogue key of what the queens were kept in, of one of them."""
    used = {str(word) for word in material.history.foundings["housing"] if str(word)}
    return "tube" if used <= {"test-tube", "vial", "tube"} else "container"
