"""The same queens shared out again by lot: a check of the fair contrast without a model.

Comes in: a `History`. Goes out: the gap that was counted, the gap that lots alone would give, and
how often they give one as wide. Never: a posterior, a sentence.

The contrast is that of the headline: k queens together against the same k each alone. So it is not
enough to shuffle the ways among containers. If a container had the same chance either way, a group
would still come out behind k singles by arithmetic. Shuffled so, the check tests the gap per
container, whose sign is the opposite of the headline's.

What the lot decided is which container each queen went to. So the queens are shared out again among
the containers of their block, and each takes her own fate along: alive on the day in a container
with workers, or not. A container has a colony if one of its queens has that fate. This is exact for
one null hypothesis: *company made no difference to any queen*. Then both ways of housing the same
queens come to the same: a group is k queens of the block drawn at random, and so is each set of k
singles, and the gap for at least one colony lies about 0 (at 0 where a kind is one block).

That is so because the share of "k apart" is taken over all sets of k that the singles make up.
Putting their share p into 1 - (1 - p)^k instead makes the same queens apart look worse the fewer
they are (on the one to eight singles of a kind of the demo by .12): a gap in favour of groups that
nobody earned.

What it can say: whether lots alone would give a gap as wide as the one counted, had company made no
difference to any queen. It does not say how large the difference is, and it takes for company
whatever the queens of one container share (one dry tube loses them all).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from cohort.history import History
from cohort.nonparametric.counts import by_day

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]

SHUFFLES: Final = 4000
LEAST: Final = 6
"""Foundings of each way, by lot and followed to the day, below which nothing is worked out."""
FEW: Final = "few"
"""The only reason for not doing it."""
GAPS: Final = ("any", "count")
"""At least one colony; number of colonies."""
AT_ONCE: Final = 500
"""Shuffles held in memory at a time."""
_ALIKE: Final = 1e-12


@dataclass(frozen=True)
class Cells:
    """Kinds and group sizes that have at least as many singles beside them as a group has queens.

    Parameters
    ----------
    member : numpy.ndarray, shape (foundings, cells)
        True for a group of that kind and size.
    single : numpy.ndarray, shape (foundings, cells)
        True for a single of that kind.
    size : numpy.ndarray, shape (cells,)
        Queens of a group.
    weight : numpy.ndarray, shape (cells,)
        Sums to 1: singles x groups / (singles + groups), as the precision of a difference grows.
    """

    member: Flags
    single: Flags
    size: Floats
    weight: Floats

    @property
    def behind(self) -> Flags:
        """Foundings that stand in a cell, shape (foundings,)."""
        return np.asarray((self.member | self.single).any(axis=1))


def cells_of(genus: NDArray[Any], size: NDArray[np.int64]) -> Cells:
    """Give the cells of foundings by kind and size; with fewer than k singles there is none."""
    found = [
        (genus == g) & (size == k)
        for g in sorted(set(genus[size > 1]))
        for k in sorted(set(size[(genus == g) & (size > 1)]))
        if ((genus == g) & (size == 1)).sum() >= k
    ]
    empty = np.zeros((len(size), 0), dtype=bool)
    member = np.column_stack(found) if found else empty
    kinds = [genus[m][0] for m in found]
    single = np.column_stack([(genus == g) & (size == 1) for g in kinds]) if found else empty
    groups, singles = member.sum(axis=0), single.sum(axis=0)
    weight = singles * groups / np.maximum(singles + groups, 1)
    many = np.array([size[m][0] for m in found], dtype=np.float64)
    return Cells(member, single, many, weight / max(weight.sum(), _ALIKE))


def gaps_of(colony: Floats, cells: Cells, weights: Floats | None = None) -> Floats:
    """Together less singly for the same queens, averaged over the cells by their weight.

    Parameters
    ----------
    colony : numpy.ndarray, shape (..., foundings)
        1 for a colony.
    cells : Cells
    weights : numpy.ndarray, shape (..., foundings), optional
        Of each founding, 1 each by default. A cell that a row of weights leaves without foundings
        of either way gets no weight in that row.

    Returns
    -------
    numpy.ndarray, shape (..., 2)
        For at least one colony: share of groups with one, less the share with at least one among
        all sets of k singles. For the number of colonies: share of groups less k times the share
        of singles. Both estimates are unbiased.
    """
    own = np.ones_like(colony) if weights is None else weights

    def counted(of: Flags) -> tuple[Floats, Floats]:
        return (own * colony) @ of.astype(np.float64), own @ of.astype(np.float64)

    (won, groups), (ones, singles) = counted(cells.member), counted(cells.single)
    weight = cells.weight * ((groups > 0) & (singles >= cells.size))
    weight = weight / np.maximum(weight.sum(axis=-1, keepdims=True), _ALIKE)
    group = won / np.maximum(groups, 1.0)
    apart = 1.0 - _none_of(singles - ones, singles, cells.size)
    alone = ones / np.maximum(singles, 1.0)
    gaps = np.stack([group - apart, group - cells.size * alone])
    return np.asarray(np.moveaxis((weight * gaps).sum(axis=-1), 0, -1))


def _none_of(failed: Floats, number: Floats, size: Floats) -> Floats:
    """Share of the sets of `size` among `number` that hold failures only."""
    out = np.ones(np.broadcast_shapes(failed.shape, size.shape))
    for taken in range(int(size.max(initial=0.0))):
        step = np.maximum(failed - taken, 0.0) / np.maximum(number - taken, 1.0)
        out = np.where(taken < size, out * step, out)
    return out


def permutation(
    history: History, *, seed: int, day: float | None = None, shuffles: int = SHUFFLES
) -> dict[str, Any]:
    """Share the queens of an allotted study out again, within blocks, and compare the gaps.

    Parameters
    ----------
    history : History
        Foundings that were allotted at random, whose fate on the day is known and from which no
        queen was taken out alive are used, in blocks that hold both ways, of kinds with at least as
        many singles as a group has queens.
    seed : int
    day : float, optional
        By default the horizon.
    shuffles : int

    Returns
    -------
    dict
        Always these keys: ``done``; ``why`` (`FEW` or blank); ``day``; ``single``, ``multi``
        (foundings behind it), ``foundings``; ``shuffles``; and for ``any`` (at least one colony)
        and ``count`` (number of colonies): the gap counted, positive where together did better,
        ``..._expected`` (mean over the shuffles) and ``..._chance`` (share of shuffles with a gap
        at least as far out as the counted one, two-sided); None where not done.

    Notes
    -----
    A chance is twice that of the side on which the counted gap lies, 1 at most. The middle of the
    shuffles is 0 or close to it for at least one colony; for the number of colonies it lies below,
    since a group can give one at most. The counted arrangement is one of those possible, hence
    (far + 1) / (shuffles + 1): Phipson and Smyth (2010), doi:10.2202/1544-6115.1585. An unmated
    queen alive among daughters of another counts as one that would have had workers alone; for both
    ways of founding alike.
    """
    when = float(history.horizon if day is None else day)
    frame = _usable(by_day(history, when))
    size = frame["size"].to_numpy(np.int64)
    cells = cells_of(frame["genus"].to_numpy(), size)
    behind = cells.behind
    number = frame.loc[behind, "arm"].value_counts()
    out: dict[str, Any] = {
        "done": False,
        "why": FEW,
        "day": int(when),
        "foundings": int(behind.sum()),
        "single": int(number.get("single", 0)),
        "multi": int(number.get("multi", 0)),
        "shuffles": 0,
    }
    out |= {f"{gap}{part}": None for gap in GAPS for part in ("", "_expected", "_chance")}
    if min(out["single"], out["multi"]) < LEAST:
        return out
    fate = fates_of(frame)
    block = np.repeat(pd.factorize(_block(frame))[0], size)
    seen = gaps_of(frame["colony"].to_numpy(float), cells)
    drawn = gaps_of(_shuffled(fate, block, size, shuffles, seed), cells)
    mean = drawn.mean(axis=0)
    tails = ((drawn >= seen - _ALIKE).sum(axis=0), (drawn <= seen + _ALIKE).sum(axis=0))
    chance = np.minimum(2 * (np.minimum(*tails) + 1) / (shuffles + 1), 1.0)
    for i, gap in enumerate(GAPS):
        out |= {
            gap: float(seen[i]),
            f"{gap}_expected": float(mean[i]),
            f"{gap}_chance": float(chance[i]),
        }
    return out | {"done": True, "why": "", "shuffles": shuffles}


def _block(frame: pd.DataFrame) -> pd.Series:
    return frame["genus"].astype(str) + "|" + frame["block"].fillna("").astype(str)


def _usable(frame: pd.DataFrame) -> pd.DataFrame:
    """Foundings by lot with a known fate, in blocks that hold both ways."""
    frame = frame[(frame["assigned"] == "random") & frame["known"] & frame["whole"]]
    both = frame.groupby(_block(frame))["arm"].transform("nunique") == 2
    return frame[both]


def fates_of(frame: pd.DataFrame) -> Floats:
    """1 for each queen alive in a container with workers, 0 for the others, container by container.

    Parameters
    ----------
    frame : DataFrame
        As `cohort.nonparametric.counts.by_day` gives it.
    """
    size = frame["size"].to_numpy(np.int64)
    alive = np.where(frame["colony"], frame["alive"], 0).astype(np.int64)
    place = np.arange(size.sum()) - np.repeat(np.cumsum(size) - size, size)
    return np.asarray(place < np.repeat(alive, size), dtype=np.float64)


def _shuffled(
    fate: Floats, block: NDArray[np.int64], size: NDArray[np.int64], shuffles: int, seed: int
) -> Floats:
    """Colonies after each sharing out, shape (shuffles, foundings)."""
    rng = np.random.default_rng(seed)
    order, first = np.argsort(block, kind="stable"), np.cumsum(size) - size
    out = np.empty((shuffles, len(size)))
    for start in range(0, shuffles, AT_ONCE):
        part = out[start : start + AT_ONCE]
        # a random key within each block: sorting by (block, key) puts its queens in a random order
        keys = rng.random((len(part), len(fate))) + block
        mixed = np.empty_like(keys)
        mixed[:, order] = fate[np.argsort(keys, axis=1)]
        part[:] = np.add.reduceat(mixed, first, axis=1) > 0
    return out
