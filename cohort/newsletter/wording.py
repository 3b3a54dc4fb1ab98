"""Parts of sentences that every answer shares.

In come rows of the comparisons; out come `Saying`s and their pieces: the verdict of a contrast,
what must be said of a number with hardly anything behind it, the count of foundings, the clause on
the same queens kept singly. Never chooses what is spoken of.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import pandas as pd

from cohort.figures.material import Material, days_to_speak_of, row_of, rows_of
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
    short : str
        The same in one sentence, where there is one.
    summary : str
        The same in thirty words at most, where there is such a sentence.
    """

    topic: str
    genus: str
    named: bool
    text: str
    verdict: str = ""
    side: str = ""
    foundings: int = 0
    rows: tuple[tuple[str, str, int, int], ...] = ()
    short: str = ""
    summary: str = ""


@dataclass
class Row:
    """Looks rows of one kind up and remembers which were used; `days` may be shared by kinds."""

    material: Material
    genus: str
    named: bool
    size: int
    used: list[tuple[str, str, int, int]] = field(default_factory=list)
    days: dict[str, list[int]] = field(default_factory=dict)

    def days_of(self, quantity: str) -> list[int]:
        """Days of a quantity that may be spoken of, ascending."""
        if quantity not in self.days:
            self.days[quantity] = days_to_speak_of(self.material, quantity)
        return self.days[quantity]

    def row(self, quantity: str, arm: str, queens: int, day: int) -> pd.Series | None:
        """One row, remembered."""
        hit = row_of(self.material, quantity, self.genus, arm, queens, day)
        if hit is not None:
            self.used.append((quantity, arm, queens, day))
        return hit

    def undated(self, quantity: str, arm: str, queens: int) -> pd.Series | None:
        """Row of a quantity that has no day, or one day only, whatever stands in that column."""
        found = rows_of(self.material, quantity, self.genus, arm, queens)
        if len(found) != 1:
            return None
        day = found[0]["day"]
        self.used.append((quantity, arm, queens, -1 if pd.isna(day) else int(day)))
        return found[0]


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


def verdict_of(voice: Voice, subject: str, *rows: pd.Series) -> str:
    """Verdict of one contrast, or of two that agree (their chances in the order given)."""
    verdict, side = judge(rows[0])
    values = {"verdict": voice.say(f"{verdict}_{side}" if side else verdict)}
    for tail, row in zip(("", "_2"), rows, strict=False):
        values[f"chance{tail}"] = voice.chance(float(row["chance_multi_better"]))
        values[f"before{tail}"] = voice.chance(float(row["prior_chance_multi_better"]))
    if values.get("chance_2") == values["chance"]:
        subject = f"{subject}_alike"
    return voice.say(subject, **values)


def flag(value: object) -> bool:
    """True for a set flag; rows that bear none hold a blank, which is no yes."""
    return str(value) in ("True", "true", "1", "1.0")


def caveats(voice: Voice, *rows: pd.Series) -> list[str]:
    """What must be said of numbers with no founding, or hardly any knowledge, behind them."""
    parts = []
    if any(int(row["foundings"]) == 0 for row in rows):
        parts.append(voice.say("carried_over"))
    if any(flag(row["prior_rules"]) for row in rows):
        parts.append(voice.say("prior_rules"))
    return parts


def fair_tail(kind: Row, voice: Voice) -> str:
    """The clause that must stand beside any chance for queens kept together."""
    return _same_queens(kind, voice, "fair_tail")


def short_tail(kind: Row, voice: Voice) -> str:
    """The same in a sentence short enough for a caption, without its range."""
    return _same_queens(kind, voice, "short_tail")


def _same_queens(kind: Row, voice: Voice, key: str) -> str:
    day = kind.days_of("chance_per_founding")[-1]
    row = kind.row("at_least_one_from_same_queens", "single", kind.size, day)
    if row is None:
        return ""
    return voice.say(
        key, k=voice.word(kind.size), lots=voice.group(kind.size), day=day, **of_row(row)
    )


def behind(voice: Voice, kind: Row, multi: pd.Series, single: pd.Series) -> str:
    """Foundings of both ways behind a pair of rows."""
    return voice.say(
        "behind",
        single=foundings_text(voice, int(single["foundings"])),
        multi=foundings_text(voice, int(multi["foundings"])),
        k=voice.word(kind.size),
    )


def foundings_text(voice: Voice, count: int) -> str:
    """'7 foundings'."""
    return voice.say("foundings", n=count)


def of_row(row: pd.Series, name: str = "") -> dict[str, int]:
    """Blanks mean, low and high of a share, as whole things of a hundred."""
    tail = f"_{name}" if name else ""
    return {
        f"mean{tail}": of_100(float(row["mean"])),
        f"low{tail}": of_100(float(row["low"])),
        f"high{tail}": of_100(float(row["high"])),
    }


def amount(row: pd.Series, name: str) -> dict[str, float]:
    """Blanks mean, low and high of a number that is no share."""
    return {
        f"mean_{name}": float(row["mean"]),
        f"low_{name}": float(row["low"]),
        f"high_{name}": float(row["high"]),
    }
