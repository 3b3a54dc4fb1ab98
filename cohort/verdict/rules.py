"""The rule by which a contrast gets its word: one pure function.

Comes in: an `Evidence`, all numbers of one contrast. Goes out: a `Verdict`: word, side, and the
one point that kept the word from being stronger. Never: a draw, a table, a sentence.

=========  =====================================================================================
word       all of
=========  =====================================================================================
none       a kind with fewer than `OWN` foundings of each way up to its day, or whose number is
           mostly what the other kinds tell; a number beyond the day that may be spoken of
same       chance of being practically equal at least `EQUAL`
clearly    chance of the side at least `SURE`: as seen, with mated and unmated queens dying alike,
           and with every prior at half and at double strength; evidence at least `TELLING`; at
           least `BY_LOT` of the foundings by lot, or as sure by those alone; no flagged check;
           of all kinds together: at least `FOLLOWED` of them followed to that day
expected   chance at least `SURE` as seen, evidence below `TELLING`
leans      chance at least `LEANING` as seen
open       anything else
=========  =====================================================================================

The first that holds is the word. `same` comes before the words with a side: whoever is nine in ten
sure that together is better, and as sure that it is better by less than the margin, would mislead
a keeper with the first of the two.

``why`` is the first of these that applies:

1. of `none`: ``few-own``, ``day-short``, ``carried-over``;
2. of `expected`: ``as-expected``;
3. of `leans` where the chance would do for `clearly`: ``flagged-check`` (the model misses
   something), ``not-by-lot`` (the queens may have differed), ``few-kinds``
   (most kinds were not followed so far), ``prior-strength`` and
   ``strength-unknown`` (what was assumed), ``readings-differ`` (what nobody sees);
4. of `leans` and `open` otherwise: ``unsure``;
5. of `same` and `clearly`: ``none``.

A number that is not known (nan) never speaks for a stronger word.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final, Literal

Word = Literal["clearly", "expected", "leans", "same", "open", "none"]
Side = Literal["single", "multi", ""]
Why = Literal[
    "day-short",
    "few-own",
    "carried-over",
    "as-expected",
    "flagged-check",
    "not-by-lot",
    "few-kinds",
    "prior-strength",
    "strength-unknown",
    "readings-differ",
    "unsure",
    "none",
]

SURE: Final = 0.95
"""Chance of a side from which a way may be called clearly ahead."""
LEANING: Final = 0.80
"""Chance of a side from which a contrast leans to it."""
EQUAL: Final = 0.80
"""Chance of being practically equal from which both ways come to about the same."""
TELLING: Final = 3.0
"""Posterior odds over prior odds from which the sheets, and not the priors, make the verdict.

A factor below 3 is "not worth more than a bare mention" (Kass and Raftery 1995, from memory)."""
BY_LOT: Final = 0.9
"""Share of the foundings by lot from which the others need not be left out."""
FOLLOWED: Final = 0.5
"""Share of the kinds that must have been followed to a day for a sure word on all of them."""
OWN: Final = 4
"""Foundings of each way that a kind must have for a verdict by name."""
OWN_SHARE: Final = 0.5
"""Least share of a number that must come from the kind's own foundings."""
DRAWS: Final = 1500
"""Draws behind a chance, where nothing else is said."""


@dataclass(frozen=True)
class Evidence:
    """What is known of one contrast; chances are those that several queens do better than one.

    Attributes
    ----------
    chance : float
        Of the colony as seen, or of a contrast that has no readings.
    prior_chance : float
        The same by the priors alone, through the same code.
    equal : float
        Chance that both ways are practically equal; nan where no margin is set.
    alike, mated_first : float
        Chance where mated and unmated queens die alike, and where the mated die first; nan for a
        contrast without readings. No word asks ``mated_first``; it is told beside the others.
    half, double : float
        Chance as seen with every prior at half and at double strength; nan: not known.
    by_lot : float
        Share of the foundings behind the contrast that were allotted by lot.
    lot_alone : float
        Chance as seen where the others are left out; nan: not done.
    kind : bool
        Whether it speaks of one kind by name; False for all kinds, a new kind or a next season.
    own_share : float
        Share of the number that comes from the kind's own foundings.
    single, multi : int
        Foundings of the kind, each way, that were followed to its day or had lost all queens.
    reach : float
        Of all kinds, a new kind or a next season: share of the kinds with enough foundings of
        their own up to that day; 1 of a kind by name.
    followed : bool
        Whether there is a number within the day that may be spoken of.
    tried : bool
        Whether the kind has a founding of this very size.
    flags : tuple of str
        Flagged checks that touch it.
    draws, prior_draws : int
        Draws behind ``chance`` and ``prior_chance``.
    """

    chance: float
    prior_chance: float
    equal: float = math.nan
    alike: float = math.nan
    mated_first: float = math.nan
    half: float = math.nan
    double: float = math.nan
    by_lot: float = 1.0
    lot_alone: float = math.nan
    kind: bool = False
    own_share: float = math.nan
    single: int = 0
    multi: int = 0
    reach: float = 1.0
    followed: bool = True
    tried: bool = True
    flags: tuple[str, ...] = ()
    draws: int = DRAWS
    prior_draws: int = DRAWS

    @property
    def side(self) -> Side:
        """The way that is more likely to be better."""
        return "multi" if self.chance >= 0.5 else "single"

    @property
    def factor(self) -> float:
        """Posterior odds over prior odds of that side."""
        return bayes_factor(
            self.of_side(self.chance), self.of_side(self.prior_chance), self.draws, self.prior_draws
        )

    def of_side(self, chance: float) -> float:
        """A chance that several do better as the chance of the side."""
        return chance if self.side == "multi" else 1.0 - chance


@dataclass(frozen=True)
class Verdict:
    """The word for a contrast, the side it names, and what kept it from being stronger."""

    word: Word
    side: Side
    why: Why


def odds(chance: float, draws: int) -> float:
    """Odds of a chance that so many draws gave.

    Of n draws a chance is told to no nearer than half a draw of 0 or 1, so odds lie between
    0.5 / (n - 0.5) and its inverse: 1,500 draws on one side are odds of 2,999, never certainty.
    """
    least = 0.5 / draws
    held = min(max(chance, least), 1.0 - least)
    return held / (1.0 - held)


def bayes_factor(chance: float, prior: float, draws: int, prior_draws: int) -> float:
    """Posterior odds over prior odds (Kass and Raftery 1995, doi 10.1080/01621459.1995.10476572).

    Parameters
    ----------
    chance, prior : float
        Of the same thing, after and before the sheets; nan gives nan.
    draws, prior_draws : int
        Behind each, see `odds`.
    """
    if math.isnan(chance) or math.isnan(prior):
        return math.nan
    return odds(chance, draws) / odds(prior, prior_draws)


def verdict(evidence: Evidence) -> Verdict:
    """The word for one contrast; see the table at the head of this module."""
    lacking = _unspoken(evidence)
    if lacking:
        return Verdict("none", "", lacking)
    if evidence.equal >= EQUAL:
        return Verdict("same", "", "none")
    sure = evidence.of_side(evidence.chance)
    if not sure >= LEANING:
        return Verdict("open", "", "unsure")
    if sure < SURE:
        return Verdict("leans", evidence.side, "unsure")
    if evidence.factor < TELLING:
        return Verdict("expected", evidence.side, "as-expected")
    held = _held_back(evidence)
    return Verdict("leans" if held else "clearly", evidence.side, held or "none")


def _unspoken(evidence: Evidence) -> Why | None:
    """Why there is no word at all, if so."""
    if evidence.kind and min(evidence.single, evidence.multi) < OWN:
        return "few-own"
    if not evidence.followed:
        return "day-short"
    told_by_itself = evidence.tried and evidence.own_share >= OWN_SHARE
    return "carried-over" if evidence.kind and not told_by_itself else None


def _held_back(evidence: Evidence) -> Why | None:
    """The first point, by precedence, on which a sure and telling contrast fails."""

    def sure(*chances: float) -> bool:
        return all(evidence.of_side(chance) >= SURE for chance in chances)

    scaled = (evidence.half, evidence.double)
    known = [chance for chance in scaled if not math.isnan(chance)]
    failing: tuple[tuple[Why, bool], ...] = (
        ("flagged-check", bool(evidence.flags)),
        ("not-by-lot", not (evidence.by_lot >= BY_LOT or sure(evidence.lot_alone))),
        ("few-kinds", evidence.reach < FOLLOWED),
        ("prior-strength", not sure(*known)),
        ("strength-unknown", len(known) < len(scaled)),
        # nan: the contrast has no readings
        ("readings-differ", not (math.isnan(evidence.alike) or sure(evidence.alike))),
        # the priors' chance is not known, so neither is what the sheets add
        ("strength-unknown", math.isnan(evidence.factor)),
    )
    return next((why for why, fails in failing if fails), None)
