"""Whether kinds differ in what the same queens come to: more than each kind by itself says.

Comes in: draws of one contrast, a column for each kind. Goes out: how far no difference is ruled
out, and how likely the differences are to matter. Never: which kind differs.

The spread between kinds is above 0 in every draw, whatever the sheets say, and priors between
genera put next to nothing on kinds that are all alike; so neither the draws of that spread nor
their odds against the prior can be asked. Asked is where "all alike" lies among the draws of the
differences: the level of the smallest credible region (an ellipsoid round their mean) that leaves
it out (Box and Tiao 1973, section 2.8, from memory; Held 2004, doi 10.1198/1061860043083). Before
the sheets all alike is the very middle, and the level about 0. As effects of kinds are drawn
together by their common prior, a study of kinds that are alike passes `SURE` in fewer than one of
twenty cases.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
from scipy.linalg import helmert

from cohort.terms.questions import EQUAL_CHANCE
from cohort.verdict.rules import SURE, Evidence, Verdict, verdict

Floats = npt.NDArray[np.float64]


def level(draws: Floats, each: Floats | None = None) -> float:
    """Level of the smallest credible region of the differences that leaves "all alike" out.

    Parameters
    ----------
    draws : float array, shape (draws, kinds)
        A contrast of at least two kinds.
    each : float array, shape (draws,), optional
        Weights that sum to 1.
    """
    apart = draws @ helmert(draws.shape[1]).T
    centre = np.average(apart, axis=0, weights=each)
    spread = np.atleast_2d(np.cov(apart.T, aweights=each))
    scaled = np.linalg.pinv(spread, hermitian=True)

    def distance(points: Floats) -> Floats:
        off = points - centre
        out: Floats = np.einsum("...i,ij,...j->...", off, scaled, off)
        return out

    nearer = distance(apart) < distance(np.zeros(apart.shape[1]))
    return float(np.average(nearer, weights=each))


def alike(draws: Floats) -> float:
    """Chance that the SD between kinds is within the margin of practical equality."""
    return float((draws.std(axis=1, ddof=1) <= EQUAL_CHANCE).mean())


def differ(evidence: Evidence) -> Verdict:
    """Clearly or open: whether kinds differ.

    Parameters
    ----------
    evidence : Evidence
        Of `level` in place of a chance that several do better, and `alike`; by the rule of every
        other contrast, and the differences must be large enough to matter as well.
    """
    found = verdict(evidence)
    if found.word == "none":
        return found
    if found.side != "multi" or evidence.equal > 1 - SURE:
        return Verdict("open", "", "unsure")
    if found.word == "clearly":
        return Verdict("clearly", "", "none")
    return Verdict("open", "", found.why)
