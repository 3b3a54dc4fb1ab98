"""What may be said of a contrast, as it stands in ``verdicts.csv``.

Comes in: that table. Goes out: one `Spoken` for each contrast, and the kinds that have a verdict.
Never: a word that the table does not hold.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

import pandas as pd

from cohort.terms.questions import AVERAGE, NEW, NEXT_SEASON

HEADLINE: Final = "same_queens_any"
"""The contrast of the headline: at least one colony from the same queens."""
DIFFER: Final = "differ"
"""In the column ``genus``: the row speaks of whether kinds differ."""
UNSAID: Final = "none"
"""Word of a contrast of which nothing may be said; reason where nothing held a word back."""
TOGETHER: Final = (AVERAGE, NEW, NEXT_SEASON, DIFFER)
"""Rows that speak of no kind by name."""
_PLAIN: Final = {
    "clearly": "{way} is clearly better",
    "expected": "{way} is better, as expected beforehand",
    "leans": "leans to {way}",
    "same": "about the same",
    "open": "open",
    UNSAID: "no verdict",
}
WAY: Final = {"single": "singly", "multi": "together"}


@dataclass(frozen=True)
class Spoken:
    """What may be said of one contrast.

    Parameters
    ----------
    contrast, genus : str
    queens : int
        Founding size; of the group.
    day : int
        Day it speaks of; -1: it has none.
    word, side, why : str
        As in the table.
    chance, prior_chance : float
        That several queens do better, now and by the priors alone; nan where it is not known.
    evidence : float
        Odds of the likelier way over its odds by the priors alone.
    """

    contrast: str
    genus: str
    queens: int
    day: int
    word: str
    side: str
    why: str
    chance: float
    prior_chance: float
    evidence: float

    @property
    def said(self) -> bool:
        """Whether there is a verdict."""
        return self.word != UNSAID

    @property
    def likelier(self) -> str:
        """Way that is more likely to be better, whether it is named or not."""
        return self.side or ("multi" if self.chance >= 0.5 else "single")

    @property
    def sure(self) -> float:
        """Chance that the likelier way is better."""
        return self.of_side(self.chance)

    @property
    def before(self) -> float:
        """The same before the season."""
        return self.of_side(self.prior_chance)

    def of_side(self, chance: float) -> float:
        """A chance that several queens do better as that of the likelier way."""
        return chance if self.likelier == "multi" else 1.0 - chance

    @property
    def plain(self) -> str:
        """Word and chance on one line, in English."""
        told = _PLAIN[self.word].format(way=WAY[self.likelier])
        if self.word in (UNSAID, "same") or pd.isna(self.chance):
            return told
        what = f" that {WAY[self.likelier]} is better" if self.word == "open" else ""
        sure, before = (_percent(share) for share in (self.sure, self.before))
        return f"{told} ({sure} sure{what}; before the season {before})"


def _percent(share: float) -> str:
    """A chance in percent, never as certain."""
    if not 0.01 <= share <= 0.99:
        return "more than 99 %" if share > 0.5 else "less than 1 %"
    return f"{100 * share:.0f} %"


type Verdicts = Mapping[tuple[str, str, int], Spoken]


def said_of(verdicts: pd.DataFrame) -> Verdicts:
    """What may be said of each contrast, by contrast, genus and size of the group.

    Parameters
    ----------
    verdicts : DataFrame
        As in ``verdicts.csv``.
    """
    found = (_spoken(row) for row in verdicts.itertuples())
    return {(one.contrast, one.genus, one.queens): one for one in found}


def _spoken(row: object) -> Spoken:
    cells = {name: getattr(row, name) for name in Spoken.__dataclass_fields__}
    day = -1 if pd.isna(cells["day"]) else int(cells["day"])
    side = "" if pd.isna(cells["side"]) else str(cells["side"])
    numbers = {name: float(cells[name]) for name in ("chance", "prior_chance", "evidence")}
    return Spoken(**cells | numbers | {"day": day, "side": side, "queens": int(cells["queens"])})


def kinds_with_a_verdict(said: Verdicts, queens: int) -> tuple[str, ...]:
    """Kinds that may be spoken of by name: their headline contrast has a verdict."""
    return tuple(
        one.genus
        for one in said.values()
        if one.contrast == HEADLINE
        and one.queens == queens
        and one.said
        and one.genus not in TOGETHER
    )
