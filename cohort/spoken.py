"""What may be said of a contrast, as it stands in ``verdicts.csv``.

Comes in: that table. Goes out: one `Spoken` for a contrast; the kinds that have a verdict and those
that have none. Never: a word that the table does not hold.
"""

from __future__ import annotations

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
        return self._of_side(self.chance)

    @property
    def before(self) -> float:
        """The same before the season."""
        return self._of_side(self.prior_chance)

    def _of_side(self, chance: float) -> float:
        return chance if self.likelier == "multi" else 1.0 - chance

    @property
    def plain(self) -> str:
        """Word and chance on one line, in English."""
        told = _PLAIN[self.word].format(way=WAY[self.likelier])
        if self.word in (UNSAID, "same") or pd.isna(self.chance):
            return told
        what = f" that {WAY[self.likelier]} is better" if self.word == "open" else ""
        sure, before = (f"{100 * part:.0f} %" for part in (self.sure, self.before))
        return f"{told} ({sure} sure{what}; before the season {before})"


def spoken(
    verdicts: pd.DataFrame, queens: int, genus: str = AVERAGE, contrast: str = HEADLINE
) -> Spoken | None:
    """What may be said of a contrast; None where the table has no row of it.

    Parameters
    ----------
    verdicts : DataFrame
        As in ``verdicts.csv``.
    queens : int
        Size of the group.
    genus : str
        A kind, ``average``, ``new``, ``next_season`` or `DIFFER`.
    contrast : str
        Name of the quantity.
    """
    hit = verdicts[
        verdicts["contrast"].eq(contrast)
        & verdicts["genus"].eq(genus)
        & verdicts["queens"].eq(queens)
    ]
    return _spoken(next(hit.itertuples())) if len(hit) else None


def _spoken(row: object) -> Spoken:
    cells = {name: getattr(row, name) for name in Spoken.__dataclass_fields__}
    day = -1 if pd.isna(cells["day"]) else int(cells["day"])
    side = "" if pd.isna(cells["side"]) else str(cells["side"])
    numbers = {name: float(cells[name]) for name in ("chance", "prior_chance", "evidence")}
    return Spoken(**cells | numbers | {"day": day, "side": side, "queens": int(cells["queens"])})


def kinds_with_a_verdict(verdicts: pd.DataFrame, queens: int) -> tuple[str, ...]:
    """Kinds that may be spoken of by name: their headline contrast has a verdict."""
    return tuple(_kinds(verdicts, queens, said=True))


def kinds_without(verdicts: pd.DataFrame, queens: int) -> tuple[str, ...]:
    """Kinds with too few foundings of their own, or not followed long enough, for a verdict."""
    return tuple(_kinds(verdicts, queens, said=False))


def _kinds(verdicts: pd.DataFrame, queens: int, *, said: bool) -> list[str]:
    mine = verdicts["contrast"].eq(HEADLINE) & verdicts["queens"].eq(queens)
    mine &= ~verdicts["genus"].isin(TOGETHER) & verdicts["word"].ne(UNSAID).eq(said)
    return verdicts.loc[mine, "genus"].astype(str).tolist()
