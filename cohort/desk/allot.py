"""Which queens found together and which alone, by a drawn list.

What comes in: pools of queens (one kind, one flight, one keeper each), the sizes and shares
asked for, a seed. What goes out: lots in blocks, each with its queens; the same seed gives the
same list on every machine. Two kinds never share a container; queens that cannot found alone, or
must not be kept, are refused. It draws; `cohort.desk.allot_study` keeps the list and adds the
foundings.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from cohort.base.errors import StudyError
from cohort.terms.genera import (
    caution_keys,
    cautions,
    founding_of,
    founds_by_splitting,
    needs_host,
)

MOST_QUEENS = 100_000
KEPT_OUT = frozenset({"eu_listed", "spreading"})
"""Cautions for which no lots are drawn; a kind native in one place and invasive in another gets its
caution and its lots."""


@dataclass(frozen=True)
class Pool:
    """Queens of one kind, one flight and one keeper that wait for their containers.

    Parameters
    ----------
    kind : str
        The keeper's own word for the kind, or its genus.
    queens : int
        How many there are, in the order in which they lie in a row (queen 1, queen 2 ...).
    keeper, flight : str
        Keeper's sign; catch, or blank.
    genus : str
        Genus; blank when not known yet. Each kind is drawn apart, also two of one genus.
    species : str
        Species, if known.
    """

    kind: str
    queens: int
    keeper: str = ""
    flight: str = ""
    genus: str = ""
    species: str = ""

    @property
    def words(self) -> str:
        """The pool as one would say it: ``Lasius, catch C12, keeper K2``."""
        flight = f"catch {self.flight}" if self.flight else ""
        keeper = f"keeper {self.keeper}" if self.keeper else ""
        return ", ".join(part for part in (self.kind, flight, keeper) if part)


@dataclass(frozen=True)
class Ask:
    """What the list is to be like.

    Parameters
    ----------
    sizes : tuple of int
        Queens per founding, such as ``(1, 3)``.
    shares : tuple of int
        Foundings of each size in proportion, such as ``(1, 1)``.
    block : int
        Foundings per block: at its end every size has come up as its share says.
    """

    sizes: tuple[int, ...] = (1, 3)
    shares: tuple[int, ...] = (1, 1)
    block: int = 4

    def __post_init__(self) -> None:
        if not self.sizes or any(size < 1 for size in self.sizes):
            raise StudyError("Sizes are whole numbers of queens from 1 on, such as 1,3.")
        if len(set(self.sizes)) < len(self.sizes):
            raise StudyError("A size is named twice. Name each size once; use shares for more.")
        if len(self.shares) != len(self.sizes) or any(share < 1 for share in self.shares):
            raise StudyError(
                f"{len(self.sizes)} sizes need {len(self.sizes)} shares from 1 on, such as "
                f"{','.join('1' for _ in self.sizes)}."
            )
        if self.block < 1 or self.block % sum(self.shares):
            raise StudyError(
                f"A block of {self.block} foundings cannot hold the shares "
                f"{','.join(map(str, self.shares))}. Take a multiple of {sum(self.shares)}."
            )

    def content(self, block: int) -> list[int]:
        """Sizes in one block of that many foundings, smallest first as asked."""
        times = block // sum(self.shares)
        return [
            size
            for size, share in zip(self.sizes, self.shares, strict=True)
            for _ in range(share * times)
        ]


@dataclass(frozen=True)
class Lot:
    """One founding of the list.

    Parameters
    ----------
    block : str
        Name of its block.
    order : int
        Place in the block, from 1.
    pool : Pool
        Where its queens come from.
    which : tuple of int
        Its queens, by their place in the row (from 1).
    assigned : {"random", "only-one", "chosen"}
        ``random``: the list decided. The others: too few queens for a draw.
    founding : str
        Number of the founding; blank until one is given.
    """

    block: str
    order: int
    pool: Pool
    which: tuple[int, ...]
    assigned: str = "random"
    founding: str = ""

    @property
    def queens(self) -> int:
        """Queens in the founding."""
        return len(self.which)

    @property
    def arm(self) -> str:
        """``single`` or ``multi``."""
        return "single" if self.queens == 1 else "multi"


def shuffled[T](items: Sequence[T], bits: np.random.PCG64) -> list[T]:
    """Items in random order, every order equally likely.

    Parameters
    ----------
    items : sequence
    bits : PCG64
        Its raw 64-bit numbers are used directly (Fisher-Yates with rejection), because those are
        the same in every version of the library, which its ready-made shuffles need not be.
    """
    out = list(items)
    for i in range(len(out) - 1, 0, -1):
        j = below(i + 1, bits)
        out[i], out[j] = out[j], out[i]
    return out


def below(n: int, bits: np.random.PCG64) -> int:
    """Whole number from 0 to n - 1, each equally likely; `n` at least 1."""
    limit = (1 << 64) - (1 << 64) % n
    while True:
        raw = int(bits.random_raw())
        if raw < limit:
            return raw % n


def draw(
    pools: Iterable[Pool], ask: Ask, seed: int, *, list_name: str = "L1", anyway: bool = False
) -> tuple[Lot, ...]:
    """Draw the list.

    Each pool is drawn apart. As many whole blocks as its queens fill come first, then one shorter
    block that keeps the shares. Queens left over go singly into the last block, by lot like the
    others (or stay over when no size is 1). A pool too small for both ways is not drawn: its
    queens are housed singly and the list says that no lot decided.

    Parameters
    ----------
    pools : iterable of Pool
        Order does not matter.
    ask : Ask
    seed : int
        From 0 to 2**63 - 1.
    list_name : str
        Beginning of the names of the blocks.
    anyway : bool
        Draw also for the pools of `unfit`.

    Raises
    ------
    StudyError
        If a pool is `unfit`, or a pool or the seed is not usable.
    """
    if not 0 <= seed < 2**63:
        raise StudyError(f"The seed {seed} is not usable. Take a whole number from 0 on.")
    ordered = sorted(pools, key=lambda p: (p.kind, p.flight, p.keeper))
    for pool in ordered:
        if not 0 <= pool.queens <= MOST_QUEENS:
            raise StudyError(f"{pool.words}: {pool.queens} queens cannot be drawn for.")
    if not anyway:
        _must_found(ordered)
    keys = [(p.kind, p.flight, p.keeper) for p in ordered]
    if len(set(keys)) < len(keys):
        raise StudyError("The same queens are named twice. Add them up and name them once.")
    bits = np.random.PCG64(seed)
    lots: list[Lot] = []
    for pool in ordered:
        lots += _draw_pool(pool, ask, bits, list_name, len({lot.block for lot in lots}))
    return tuple(lots)


def unfit(pools: Iterable[Pool]) -> tuple[tuple[Pool, str], ...]:
    """Pools that no list is drawn for, each with the reason as a sentence.

    Parameters
    ----------
    pools : iterable of Pool
        Where the species is not known, only the genus can tell. Pools without queens are passed
        over.
    """
    told = ((pool, _unfit(pool)) for pool in pools if pool.queens)
    return tuple((pool, why) for pool, why in told if why)


def _unfit(pool: Pool) -> str:
    name = f"{pool.genus} {pool.species}".strip()
    if KEPT_OUT & set(caution_keys(pool.genus, pool.species)):
        return cautions(pool.genus, pool.species)[0]
    if needs_host(pool.genus, pool.species):
        return f"Queens of {name} found in the colony of a host and cannot found alone."
    if founding_of(pool.genus, pool.species)[0] == "without queens":
        return f"{pool.genus} has no queens; new colonies come from a split."
    if founds_by_splitting(pool.genus, pool.species):
        return f"New colonies of {pool.genus} come from a split; a queen does not found alone."
    return ""


def _must_found(pools: Iterable[Pool]) -> None:
    told = [f"{pool.words}: {why}" for pool, why in unfit(pools)]
    if told:
        raise StudyError(
            "\n".join(told) + "\nNothing was drawn. Set these queens aside (--set-aside), or name "
            "the others only (--queens). Where local law allows it and you know that they found "
            "alone, add --anyway."
        )


def blocks_of(queens: int, ask: Ask) -> list[list[int]]:
    """Sizes in each block for that many queens, before the order is drawn.

    Empty when the queens are too few for each size to come up once as its share says.
    """
    whole, unit = ask.content(ask.block), ask.content(sum(ask.shares))
    times, rest = divmod(queens, sum(whole))
    blocks = [list(whole) for _ in range(times)]
    more, rest = divmod(rest, sum(unit))
    if more:
        blocks.append(ask.content(more * sum(ask.shares)))
    if blocks and 1 in ask.sizes:
        blocks[-1] += [1] * rest
    return blocks


def _draw_pool(
    pool: Pool, ask: Ask, bits: np.random.PCG64, list_name: str, before: int
) -> list[Lot]:
    row = range(1, pool.queens + 1)
    blocks = blocks_of(pool.queens, ask)
    if not blocks:
        why = "only-one" if pool.queens == 1 else "chosen"
        return [Lot("", i, pool, (i,), why) for i in row] if 1 in ask.sizes else []
    queue = shuffled(row, bits)
    lots: list[Lot] = []
    for n, content in enumerate(blocks, start=before + 1):
        for order, size in enumerate(shuffled(content, bits), start=1):
            which, queue = tuple(sorted(queue[:size])), queue[size:]
            lots.append(Lot(f"{list_name}-{n}", order, pool, which))
    return lots


def left_over(pool: Pool, lots: Iterable[Lot]) -> tuple[int, ...]:
    """Queens of a pool (by their place in the row) that no lot took."""
    taken = {q for lot in lots if lot.pool == pool for q in lot.which}
    return tuple(q for q in range(1, pool.queens + 1) if q not in taken)


def number_lots(lots: Sequence[Lot], free: dict[str, Iterable[str]]) -> tuple[Lot, ...]:
    """Lots with numbers of foundings.

    Parameters
    ----------
    lots : sequence of Lot
    free : dict
        Keeper -> free numbers in order.

    Raises
    ------
    StudyError
        If a keeper has no numbers left.
    """
    supply = {keeper: iter(numbers) for keeper, numbers in free.items()}
    out: list[Lot] = []
    for lot in lots:
        number = next(supply.get(lot.pool.keeper, iter(())), "")
        if not number:
            raise StudyError(f"No free number is left for keeper {lot.pool.keeper or '(none)'}.")
        out.append(replace(lot, founding=number))
    return tuple(out)
