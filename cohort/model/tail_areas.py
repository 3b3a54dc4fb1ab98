"""How far out a number lies among replicated ones, and which of many are too far out.

Comes in: replicated numbers and what was seen. Goes out: tail areas, and flags. Never: a name.

*Tail area.* Two-sided: twice the smaller of the shares of replicates beyond what was seen. Counts
are spread evenly over the half unit on either side, which gives the mid-p of Lancaster (1961, doi
10.1080/01621459.1961.10482105): half of the replicates equal to what was seen count. With the
ordinary tail area of a count a check of few foundings could hardly ever be flagged, and a whole
family of them would be too quiet.

*Beyond the replicates.* 2,000 replicates tell no tail area below .0005, and .05 shared among a
hundred checks asks for that. Where fewer than `FEW` replicates lie beyond, the furthest twentieth
is carried on as a generalised Pareto tail with the same mean and variance (Knijnenburg et al.
2009, doi 10.1093/bioinformatics/btp211, who fit it by likelihood). Ten times the replicates would
say the same and cost ten times as much.

*Given the margins.* A fit has seen what it is held against. Its replicates share what it does not
know, so a keeper's losses vary with the losses of the whole study, and a check of the keeper
alone is too quiet: with two keepers of equal size its z is too small by a factor of up to 1.7. So
a number of one group is taken given numbers of the study that have parameters of their own (the
same number by genus and by way), by regression over the replicates: in law this is the
conditional predictive tail area of Bayarri & Berger (2000, doi 10.1080/01621459.2000.10474309),
taken to be linear. A group that is the same as a genus has nothing left to tell and gets no row.

*Many.* Flagged at a false-discovery rate of 5 % over all numbers on the model, and once more over
those on the allotment (Benjamini & Hochberg 1995, doi 10.1111/j.2517-6161.1995.tb02031.x, as scipy
has it); where all foundings are by lot there are none of the latter.
The numbers are of three families: of the whole study (shape of first workers, looks, sizes of
groups); of keepers, sizes, seasons and whatever else cuts across genera; of what has parameters of
its own (ways, genera) or is taken by month. Tail areas are weighted (Genovese,
Roeder & Wasserman 2006, doi 10.1093/biomet/93.3.509) so that each family has a third of the alarms
allowed: else each further genus would drown the few that concern all. The numbers overlap; the
rule is proved for independent ones and for some that go together, and a test on replicates tells
how often it goes wrong here.
"""

from __future__ import annotations

from typing import Final

import numpy as np
import numpy.typing as npt
from scipy.stats import false_discovery_control

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]
Bools = npt.NDArray[np.bool_]
RATE: Final = 0.05
FEW: Final = 20
FAR: Final = 0.05
"""Share of replicates that the tail is carried on from."""
SHAPES: Final = (-0.08, 0.5)
"""Shapes a tail may have. From its furthest twentieth on a normal one has -.13; held at -.08 its
areas come out up to twice too large, where -.13 makes them too small from 4 SDs on."""
LEAST: Final = 1e-9
LEFT: Final = 1e-6
"""Share of variance below which nothing is left once the margins are known."""


def spread_evenly(counts: Floats, rng: np.random.Generator) -> Floats:
    """Counts, each moved by up to half a unit."""
    moved: Floats = counts + rng.uniform(-0.5, 0.5, np.shape(counts))
    return moved


def beyond(drawn: Floats, seen: float) -> float:
    """Chance of more than was seen; half of those equal count.

    Parameters
    ----------
    drawn : float array, shape (replicates,)
    seen : float
    """
    more = float((drawn > seen).sum() + 0.5 * (drawn == seen).sum())
    start = float(np.quantile(drawn, 1 - FAR))
    past = drawn[drawn > start] - start
    if more >= FEW or seen <= start or len(past) < FEW:
        return max(more, 0.5) / len(drawn)
    mean, variance = float(past.mean()), float(past.var())
    shape = 0.5 * (1 - mean**2 / variance) if variance > 0 else 0.0
    shape = min(max(shape, SHAPES[0]), SHAPES[1])
    far = (seen - start) / (mean * (1 - shape))
    left = max(0.0, 1 + shape * far)
    tail = np.exp(-far) if abs(shape) < 1e-6 else left ** (-1 / shape)
    return float(min(FEW / len(drawn), len(past) / len(drawn) * tail))


def tail_area(drawn: Floats, seen: float) -> float:
    """Two-sided tail area of what was seen among replicates, at least `LEAST`."""
    side = min(beyond(drawn, seen), beyond(-drawn, -seen))
    return float(min(1.0, max(2 * side, LEAST)))


def given_margins(
    drawn: Floats, seen: float, margins: Floats, margins_seen: Floats
) -> tuple[Floats, float] | None:
    """Replicates of a number moved to the margins that were seen.

    Parameters
    ----------
    drawn : float array, shape (replicates,)
    seen : float
    margins : float array, shape (replicates, margins)
    margins_seen : float array, shape (margins,)

    Returns
    -------
    moved : float array, shape (replicates,)
        To be held against ``seen``.
    expected : float
        Their mean.
    None
        Where the margins leave nothing to be told.
    """
    centre = margins.mean(axis=0)
    scale = margins.std(axis=0)
    used = scale > 0
    if not used.any():
        return drawn, float(drawn.mean())
    x = (margins[:, used] - centre[used]) / scale[used]
    slope, *_ = np.linalg.lstsq(x, drawn - drawn.mean(), rcond=1e-8)
    rest = drawn - drawn.mean() - x @ slope
    if rest.var() <= LEFT * max(float(drawn.var()), LEFT):
        return None
    shift = float(((margins_seen[used] - centre[used]) / scale[used]) @ slope)
    moved: Floats = rest + drawn.mean() + shift
    return moved, float(drawn.mean() + shift)


def weights(family: Ints) -> Floats:
    """Weights of mean 1 that give each family the same sum.

    Parameters
    ----------
    family : int array, shape (checks,)
    """
    _, at, sizes = np.unique(family, return_inverse=True, return_counts=True)
    each: Floats = len(family) / (len(sizes) * sizes[at])
    return each


def flagged(areas: Floats, family: Ints, rate: float = RATE) -> Bools:
    """Which of many tail areas are too small, at a false-discovery rate.

    Parameters
    ----------
    areas : float array, shape (checks,)
    family : int array, shape (checks,)
        Which family each belongs to.
    rate : float
    """
    if not len(areas):
        return np.zeros(0, np.bool_)
    shared = np.minimum(areas / weights(family), 1.0)
    out: Bools = np.asarray(false_discovery_control(shared) <= rate)
    return out
