"""What the results say, in sentences.

In come frozen results with an open gate; out come `Saying`s: the fair pair (the same queens, both
ways), queens alive, first workers, queens left, colonies and first brood, kind by kind, all kinds
together after them. Every sentence is filled from the catalogue of its language.
Never speaks beyond the last day to which at least eight foundings of each way were followed, never
gives a chance for queens kept together without the one for the same queens kept singly, and never
calls one thing the cause of another unless every founding behind it was allotted by lot.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import pandas as pd

from cohort.errors import GateError
from cohort.figures.material import (
    Material,
    both_ways,
    compared,
    days_to_speak_of,
    headline_size,
    kinds_in_order,
    row_of,
)
from cohort.figures.names import of_100
from cohort.newsletter.speech import Voice

CLEAR, LEANING, EQUAL = 0.95, 0.80, 0.80
"""Chance from which a way is called clearly ahead, leaning; and both ways about the same."""


@dataclass(frozen=True)
class Saying:
    """One short paragraph about one kind.

    Parameters
    ----------
    topic : str
        fair, survival, first_worker, left, colony or brood.
    genus : str
        Kind it speaks of (`average`, `new` as in the comparisons).
    named : bool
        True when the kind bears a scientific name.
    text : str
        The sentences.
    verdict : str
        clear, leaning, open, same or '' (no contrast).
    side : str
        single, multi or ''.
    foundings : int
        Foundings behind it.
    rows : tuple of (quantity, arm, queens, day)
        Where its numbers stand in the comparisons.
    """

    topic: str
    genus: str
    named: bool
    text: str
    verdict: str = ""
    side: str = ""
    foundings: int = 0
    rows: tuple[tuple[str, str, int, int], ...] = ()


@dataclass
class Row:
    """Looks rows of one kind up and remembers which were used."""

    material: Material
    genus: str
    named: bool
    size: int
    used: list[tuple[str, str, int, int]] = field(default_factory=list)

    def row(self, quantity: str, arm: str, queens: int, day: int) -> pd.Series | None:
        """One row, remembered."""
        hit = row_of(self.material.results.comparisons, quantity, self.genus, arm, queens, day)
        if hit is not None:
            self.used.append((quantity, arm, queens, day))
        return hit

    def undated(self, quantity: str, arm: str, queens: int) -> pd.Series | None:
        """Row of a quantity that has no day, or one day only, whatever stands in that column."""
        table = self.material.results.comparisons
        hit = table[
            (table["quantity"] == quantity)
            & (table["genus"] == self.genus)
            & (table["arm"] == arm)
            & (table["queens"] == queens)
        ]
        if len(hit) != 1:
            return None
        day = hit.iloc[0]["day"]
        self.used.append((quantity, arm, queens, -1 if pd.isna(day) else int(day)))
        return hit.iloc[0]


def can_compare(material: Material) -> bool:
    """True when the page may speak of chances at all."""
    return (
        material.settled
        and both_ways(material.history.foundings)
        and bool(days_to_speak_of(material, "chance_lasting"))
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
    out: list[Saying] = []
    for i, kind in enumerate(kinds):
        out += _of_kind(material, voice, kind.genus, kind.named, size, i < most)
    if len(kinds) > 1:
        out += _of_kind(material, voice, "average", False, size, True)
        out += _of_kind(material, voice, "new", False, size, False)
    return tuple(out)


def _of_kind(
    material: Material, voice: Voice, genus: str, named: bool, size: int, whole: bool
) -> list[Saying]:
    makers = (_fair, _survival, _first_worker, _left, _colony, _brood) if whole else (_fair,)
    found = (make(Row(material, genus, named, size), voice) for make in makers)
    return [saying for saying in found if saying is not None]


# ------------------------------------------------------------------ the fair pair


def _fair(kind: Row, voice: Voice) -> Saying | None:
    day = days_to_speak_of(kind.material, "chance_lasting")[-1]
    size = kind.size
    together = kind.row("chance_lasting", "multi", size, day)
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
        voice.say("fair_together", **words, **_of(together)),
        voice.say("fair_apart", **words, **_of(apart)),
        voice.say("fair_count", mean=float(many["mean"]), low=float(many["low"]),
                  high=float(many["high"])),
    ]  # fmt: skip
    verdict, side = judge(any_)
    if count is not None and judge(count) == (verdict, side):
        parts.append(_verdict(voice, "verdict_both", any_, count))
    else:
        parts.append(_verdict(voice, "verdict_any", any_))
        parts += [_verdict(voice, "verdict_count", count)] if count is not None else []
    parts += _why(kind, voice, verdict, any_)
    parts.append(_behind(voice, kind, together, apart))
    return Saying("fair", kind.genus, kind.named, " ".join(parts), verdict, side,
                  int(any_["foundings"]), tuple(kind.used))  # fmt: skip


def fair_tail(kind: Row, voice: Voice) -> str:
    """The clause that must stand beside any chance for queens kept together."""
    day = days_to_speak_of(kind.material, "chance_lasting")[-1]
    row = kind.row("at_least_one_from_same_queens", "single", kind.size, day)
    if row is None:
        return ""
    return voice.say(
        "fair_tail", k=voice.word(kind.size), lots=voice.group(kind.size), day=day, **_of(row)
    )


def judge(row: pd.Series) -> tuple[str, str]:
    """Verdict (clear, leaning, open, same) and side (single, multi) of a contrast."""
    better = float(row["chance_multi_better"])
    side = "multi" if better >= 0.5 else "single"
    if float(row["chance_practically_equal"]) >= EQUAL:
        return "same", ""
    sure = max(better, 1 - better)
    if sure >= CLEAR:
        return "clear", side
    if sure >= LEANING:
        return "leaning", side
    return "open", ""


def _verdict(voice: Voice, subject: str, *rows: pd.Series) -> str:
    """Verdict of one contrast, or of two that agree (their chances in the order given)."""
    verdict, side = judge(rows[0])
    values = {"verdict": voice.say(f"{verdict}_{side}" if side else verdict)}
    for tail, row in zip(("", "_2"), rows, strict=False):
        values[f"chance{tail}"] = voice.chance(float(row["chance_multi_better"]))
        values[f"before{tail}"] = voice.chance(float(row["prior_chance_multi_better"]))
    return voice.say(subject, **values)


def _why(kind: Row, voice: Voice, verdict: str, row: pd.Series) -> list[str]:
    """What may be said of causes, of what was assumed beforehand, and what could change it."""
    parts = []
    if int(row["foundings"]) == 0:
        parts.append(voice.say("carried_over"))
    if bool(row["prior_rules"]):
        parts.append(voice.say("prior_rules"))
    if verdict == "clear" and kind.genus != "new":
        parts.append(voice.say("by_lot" if by_lot(kind.material, kind.genus) else "not_by_lot"))
    parts.append(voice.say(f"change_{verdict}"))
    return parts


def by_lot(material: Material, genus: str) -> bool:
    """True when every compared founding of a kind (or of all kinds) was allotted by lot."""
    inside = compared(material.history.foundings)
    if genus not in ("average", "new"):
        inside = inside[inside["genus"] == genus]
    return bool(len(inside)) and bool((inside["assigned"] == "random").all())


def housing(material: Material) -> str:
    """Catalogue key of what the queens were kept in."""
    used = {str(word) for word in material.history.foundings["housing"] if str(word)}
    return "tubes" if used <= {"test-tube", "vial", "tube"} else "containers"


def _behind(voice: Voice, kind: Row, multi: pd.Series, single: pd.Series) -> str:
    return voice.say(
        "behind",
        single=_foundings(voice, int(single["foundings"])),
        multi=_foundings(voice, int(multi["foundings"])),
        k=voice.word(kind.size),
    )


def _foundings(voice: Voice, count: int) -> str:
    return voice.say("foundings", n=count)


def _of(row: pd.Series, name: str = "") -> dict[str, int]:
    tail = f"_{name}" if name else ""
    return {
        f"mean{tail}": of_100(float(row["mean"])),
        f"low{tail}": of_100(float(row["low"])),
        f"high{tail}": of_100(float(row["high"])),
    }


def _amount(row: pd.Series, name: str) -> dict[str, float]:
    return {
        f"mean_{name}": float(row["mean"]),
        f"low_{name}": float(row["low"]),
        f"high_{name}": float(row["high"]),
    }


# ------------------------------------------------------------------ the other questions


def _pair(kind: Row, quantity: str) -> tuple[int, pd.Series, pd.Series] | None:
    """Latest day to speak of with the rows of both ways."""
    for day in reversed(days_to_speak_of(kind.material, quantity)):
        single = kind.row(quantity, "single", 1, day)
        multi = kind.row(quantity, "multi", kind.size, day)
        if single is not None and multi is not None:
            return day, single, multi
    return None


def _contrast(kind: Row, voice: Voice, quantity: str, day: int) -> tuple[str, str, str]:
    """Verdict, side and the sentence of a difference; blank when there is none."""
    row = kind.row(quantity, "difference", kind.size, day)
    if row is None or pd.isna(row["chance_multi_better"]):
        return "", "", ""
    verdict, side = judge(row)
    return verdict, side, _verdict(voice, "verdict_here", row)


def _made(kind: Row, topic: str, parts: list[str], foundings: int, verdict: str = "",
          side: str = "") -> Saying:  # fmt: skip
    text = " ".join(part for part in parts if part)
    return Saying(topic, kind.genus, kind.named, text, verdict, side, foundings, tuple(kind.used))


def _survival(kind: Row, voice: Voice) -> Saying | None:
    found = _pair(kind, "share_alive")
    if found is None:
        return None
    day, single, multi = found
    verdict, side, said = _contrast(kind, voice, "share_alive", day)
    text = voice.say("survival", day=day, k=voice.word(kind.size), **_of(single, "single"),
                     **_of(multi, "multi"))  # fmt: skip
    prior = [voice.say("prior_rules")] if bool(single["prior_rules"]) else []
    count = int(single["foundings"]) + int(multi["foundings"])
    parts = [text, said, *prior, _behind(voice, kind, multi, single)]
    return _made(kind, "survival", parts, count, verdict, side)


def _first_worker(kind: Row, voice: Voice) -> Saying | None:
    found = _pair(kind, "chance_by_day")
    if found is None:
        return None
    day, single, multi = found
    text = voice.say("first_worker", day=day, k=voice.word(kind.size), **_of(single, "single"),
                     **_of(multi, "multi"), tail=fair_tail(kind, voice))  # fmt: skip
    early = kind.undated("median_day", "single", 1)
    late = kind.undated("median_day", "multi", kind.size)
    when = ""
    if early is not None and late is not None:
        when = voice.say(
            "median_day", k=voice.word(kind.size),
            **{n: round(v) for n, v in (_amount(early, "single") | _amount(late, "multi")).items()},
        )  # fmt: skip
    prior = [voice.say("prior_rules")] if bool(single["prior_rules"]) else []
    count = int(single["foundings"]) + int(multi["foundings"])
    return _made(kind, "first_worker", [text, when, *prior, _behind(voice, kind, multi, single)],
                 count)  # fmt: skip


def _left(kind: Row, voice: Voice) -> Saying | None:
    table = kind.material.results.comparisons
    days = table.loc[table["quantity"] == "chance_one_left", "day"].dropna().astype(int)
    last = days_to_speak_of(kind.material, "chance_lasting")[-1]
    # days here run from the first worker: the founding itself must have been followed that far
    for day in sorted({int(d) for d in days if d + typical_first(kind.material) <= last})[::-1]:
        one = kind.row("chance_one_left", "multi", kind.size, day)
        none = kind.row("chance_none_left", "multi", kind.size, day)
        several = kind.row("chance_several_left", "multi", kind.size, day)
        if one is None or none is None or several is None:
            continue
        text = voice.say(
            "left", k=voice.word(kind.size), day=day, **_of(one, "one"), **_of(none, "none"),
            **_of(several, "several"), tail=fair_tail(kind, voice),
        )  # fmt: skip
        prior = [voice.say("prior_rules")] if bool(one["prior_rules"]) else []
        count = int(one["foundings"])
        behind = voice.say("behind_groups", foundings=_foundings(voice, count),
                           k=voice.word(kind.size))  # fmt: skip
        zero = [voice.say("carried_over")] if count == 0 else []
        return _made(kind, "left", [text, *zero, *prior, behind], count)
    return None


def typical_first(material: Material) -> float:
    """Middle day on which first workers were seen in groups; 0 when none were."""
    inside = compared(material.history.foundings)
    seen = inside.loc[(inside["arm"] == "multi") & (inside["first_by"] < float("inf")), "first_by"]
    return float(seen.median()) if len(seen) else 0.0


def _colony(kind: Row, voice: Voice) -> Saying | None:
    found = _pair(kind, "colonies_per_queen")
    if found is None:
        return None
    day, single, multi = found
    verdict, side, said = _contrast(kind, voice, "colonies_per_queen", day)
    text = voice.say("colony", day=day, k=voice.word(kind.size), **_of(single, "single"),
                     **_of(multi, "multi"))  # fmt: skip
    count = int(single["foundings"]) + int(multi["foundings"])
    parts = [text, said, _behind(voice, kind, multi, single)]
    return _made(kind, "colony", parts, count, verdict, side)


def _brood(kind: Row, voice: Voice) -> Saying | None:
    single = kind.undated("workers_after_30_days", "single", 1)
    multi = kind.undated("workers_after_30_days", "multi", kind.size)
    if single is None or multi is None:
        return None
    whole = {n: round(v) for n, v in (_amount(single, "single") | _amount(multi, "multi")).items()}
    text = voice.say("brood", k=voice.word(kind.size), **whole)
    prior = [voice.say("prior_rules")] if bool(single["prior_rules"]) else []
    count = int(single["foundings"]) + int(multi["foundings"])
    return _made(kind, "brood", [text, *prior, _behind(voice, kind, multi, single)], count)
