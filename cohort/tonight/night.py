"""How we would divide the queens of one night, and what that rests on.

Comes in: an `Asked` kind, queens, a `Basis`. Goes out: a frozen `Tonight`. Never: print, a file.

With results the advice is that of the plan. Without, it goes by what is published on the genus.
Work that finds more deaths in company speaks for keeping queens apart. Anything else, or nothing,
leaves open which way gives a colony more often from the same queens; then some of each is the fair
hedge, as many queens in a group as alone, by lot.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, Literal

from cohort.base.errors import StudyError
from cohort.desk.allot import Ask, Lot, Pool, blocks_of, draw, unfit
from cohort.outcomes.basis import Basis
from cohort.plan import Plan, plan
from cohort.plan.advice import Parts, way
from cohort.plan.asked import Asked
from cohort.plan.plan import DAY
from cohort.published import Published, published

Why = Literal["results", "results_alike", "apart", "company", "mixed", "open", "kin", "nothing",
              "two", "one", "none"]  # fmt: skip
HEDGED: Final = (3, 2)
"""Groups of a hedge: few kinds are known to gain by more, and many to lose."""
LARGEST: Final = 4
"""Largest group that is compared, as in `cohort plan`."""


@dataclass(frozen=True)
class Aside:
    """Queens that no lot is drawn for: how many, and the reason (a word of `left_out`)."""

    queens: int
    reason: str


@dataclass(frozen=True)
class Tonight:
    """What to do with the queens of one kind tonight.

    Attributes
    ----------
    word : str
        The kind as asked for.
    genus, species : str
        Blank where not known.
    queens : int
        Caught, those set aside included.
    aside : tuple of Aside
    asked : Asked
        Cautions, and what to look at where kinds of the genus differ.
    published : Published
    plan : Plan or None
        Of the queens that are left; None where none is.
    parts : tuple of int
        Queens of each container as we would divide them, largest first.
    why : str
        What that goes by: a word of `Why`.
    refused : str
        Why no lots are drawn for this kind; blank where they may be.
    """

    word: str
    genus: str
    species: str
    queens: int
    aside: tuple[Aside, ...]
    asked: Asked
    published: Published
    plan: Plan | None
    parts: Parts
    why: Why
    refused: str

    @property
    def left(self) -> int:
        """Queens to divide."""
        return self.queens - sum(one.queens for one in self.aside)

    @property
    def ask(self) -> Ask:
        """What `allot` is asked for, so that its one block is this division."""
        shares = Counter(self.parts)
        sizes = tuple(sorted(shares))
        return Ask(sizes, tuple(shares[size] for size in sizes), len(self.parts))

    @property
    def to_draw(self) -> bool:
        """Whether a lot has something to decide: which queens go together."""
        return bool(self.parts) and way(self.parts) != "apart" and len(self.parts) > 1

    def lots(self, seed: int, keeper: str = "", name: str = "L1") -> tuple[Lot, ...]:
        """Lots of this division, the very ones that `cohort allot` draws with this seed."""
        pool = Pool(self.word, self.left, keeper, "", self.genus, self.species)
        return draw([pool], self.ask, seed, list_name=name)


def hedge(queens: int) -> Parts:
    """Some of each: a group, and as many of the same queens alone; then the like again.

    Of pairs and trios those that leave fewest queens over; the rest are housed alone.

    Parameters
    ----------
    queens : int

    Returns
    -------
    tuple of int
        Queens of each container, largest first; empty where there are too few for both ways.
    """
    if queens < 3:
        return ()
    if queens == 3:
        return (2, 1)
    sizes = [size for size in HEDGED if queens >= 2 * size]
    size = min(sizes, key=lambda one: queens % (2 * one))
    blocks = blocks_of(queens, Ask((1, size), (size, 1), size + 1))
    return tuple(sorted((one for block in blocks for one in block), reverse=True))


def tonight(
    word: str,
    genus: str,
    species: str,
    queens: int,
    asked: Asked,
    basis: Basis,
    *,
    aside: Sequence[Aside] = (),
    want: str = "one",
    day: int = DAY,
    before: Basis | None = None,
) -> Tonight:
    """How we would divide the queens of one night.

    Parameters
    ----------
    word, genus, species : str
        The kind as asked for, and what is known of it.
    queens : int
        Caught.
    asked : Asked
        From `cohort.plan.asked`.
    basis, want, day, before
        See `cohort.plan.plan`.
    aside : sequence of Aside

    Raises
    ------
    StudyError
        More queens are set aside than there are; see also `cohort.plan.plan`.
    """
    left = queens - sum(one.queens for one in aside)
    if left < 0:
        raise StudyError(
            f"{queens - left} queens cannot be set aside of {queens}. Count them again."
        )
    made = (
        plan(left, asked.kind, basis, largest=LARGEST, day=day, want=want, before=before)
        if left
        else None
    )
    known = published(genus, species)
    parts, why = _divided(left, made, known)
    refused = unfit([Pool(word, max(left, 1), "", "", genus, species)])
    return Tonight(
        word, genus, species, queens, tuple(aside), asked, known, made, parts, why,
        refused[0][1] if refused else "",
    )  # fmt: skip


def _divided(left: int, made: Plan | None, known: Published) -> tuple[Parts, Why]:
    if made is None:
        return (), "none"
    if left == 1:
        return (1,), "one"
    if not made.assumed and made.advice.best:
        if not made.advice.alike:
            return made.advice.best, "results"
        return hedge(left) or (1, 1), "results_alike"
    if known.of in ("species", "genus") and known.lean == "apart":
        return (1,) * left, "apart"
    if left == 2:
        return (1, 1), "two"
    if known.of in ("species", "genus"):
        return hedge(left), known.lean
    return hedge(left), "kin" if known.of == "kin" else "nothing"
