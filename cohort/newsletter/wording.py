"""Parts of sentences that every answer shares.

In come rows of the comparisons; out come `Saying`s and their pieces: what must be said of a number
with hardly anything behind it or that a flagged check touches, the count of foundings, the clause
on the same queens kept singly. Never gives a number that is carried over from other kinds, and
never chooses what is spoken of.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import pandas as pd

from cohort.figures.material import Material, days_to_speak_of, flag, row_of, rows_of
from cohort.figures.names import of_100
from cohort.newsletter.speech import Voice


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
        The sentences: of the fair pair of all kinds (or the only one) the lead of the page, of
        another kind the lead for a keeper of it.
    verdict : str
        Word of ``verdicts.csv``, or '' (no contrast).
    side : str
        single, multi or ''.
    foundings : int
        Foundings behind it.
    rows : tuple of (quantity, arm, queens, day)
        Where its numbers stand in the comparisons.
    head : str
        Its first sentences, on the same queens both ways, where a page sets them by themselves.
    cells : tuple of str
        The same as a row of the table by kind, where there is one.
    """

    topic: str
    genus: str
    named: bool
    text: str
    verdict: str = ""
    side: str = ""
    foundings: int = 0
    rows: tuple[tuple[str, str, int, int], ...] = ()
    head: str = ""
    cells: tuple[str, ...] = ()


@dataclass
class Row:
    """Looks rows of one kind up, those that are its own, and remembers which were used."""

    material: Material
    genus: str
    named: bool
    size: int
    used: list[tuple[str, str, int, int]] = field(default_factory=list)
    days: dict[str, list[int]] = field(default_factory=dict)

    def days_of(self, quantity: str) -> list[int]:
        """Days of a quantity that may be spoken of, ascending."""
        if quantity not in self.days:
            self.days[quantity] = days_to_speak_of(self.material, quantity, self.genus)
        return self.days[quantity]

    def row(self, quantity: str, arm: str, queens: int, day: int) -> pd.Series | None:
        """One row, remembered; None where its number is carried over from other kinds."""
        hit = row_of(self.material, quantity, self.genus, arm, queens, day)
        if hit is None or flag(hit["carried_over"]):
            return None
        self.used.append((quantity, arm, queens, day))
        return hit

    def undated(self, quantity: str, arm: str, queens: int) -> pd.Series | None:
        """Row of a quantity that has no day, or one day only, whatever stands in that column."""
        found = rows_of(self.material, quantity, self.genus, arm, queens)
        if len(found) != 1 or flag(found[0]["carried_over"]):
            return None
        day = found[0]["day"]
        self.used.append((quantity, arm, queens, -1 if pd.isna(day) else int(day)))
        return found[0]


def caveats(kind: Row, voice: Voice, question: str, *rows: pd.Series) -> list[str]:
    """What must be said of numbers that the model may miss, or with hardly anything behind them.

    Parameters
    ----------
    kind : Row
    voice : Voice
    question : str
        Question of the sheets that the numbers answer.
    *rows : Series
        Rows spoken of.
    """
    parts = []
    if flagged_here(kind.material, question, kind.genus):
        parts.append(voice.say("flagged_here"))
    if any(flag(row["prior_rules"]) for row in rows):
        parts.append(voice.say("prior_rules"))
    return parts


def flagged_here(material: Material, question: str, genus: str) -> bool:
    """Whether a flagged check touches a question of a kind, or of all of them together."""
    own = set(material.history.foundings["genus"].astype(str))
    return any(
        question in flagged["touches"]
        and (not flagged.get("genus") or genus not in own or flagged["genus"] == genus)
        for flagged in material.results.diagnosis.get("flags", ())
    )


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
    return voice.say(key, lots=voice.group(kind.size), day=day, **of_row(row))


def behind(voice: Voice, kind: Row, multi: pd.Series, single: pd.Series | None = None) -> str:
    """Foundings behind a pair of rows, or behind a row on groups alone."""
    alone = 0 if single is None else int(single["foundings"])
    return voice.say("based", what=voice.based(alone, int(multi["foundings"]), kind.size))


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
