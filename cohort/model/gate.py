"""The gate: whether a fit has settled, and by what it was judged.

Comes in: draws of parameters and of printed outcomes, and the sampler's own record. Goes out: a
frozen `Diagnosis`. Never: a threshold that depends on the answer.

Thresholds: Vehtari et al. 2021, doi 10.1214/20-BA1221 (rank-normalised R-hat, bulk and tail
ESS); Betancourt 2016, arXiv 1604.00695 (E-BFMI).

R-hat scatters, the more the fewer the draws. Parameters are judged by all draws, outcomes by those
they were computed from, some 375 of each chain, whose R-hat is held to `RHAT_THINNED`. Of chains
that mix perfectly, with 650 independent draws in 1,500, 5 % of numbers pass 1.01 by chance, so that
one of fifty does in nine of ten fits; 1 in 1,000 passes 1.02. Where one chain lies half an SD off
84 % pass it, and 4 % where it lies .3 SD off (simulated, 2026-11-30). An outcome is made of
parameters, which are judged by all draws. The limit is the same where nothing was thinned.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import asdict, dataclass
from typing import Any, Final

import numpy as np
import numpy.typing as npt
import xarray as xr

from cohort.base import background

RHAT: Final = 1.01
RHAT_THINNED: Final = 1.02
"""Limit of R-hat for outcomes, which are computed from thinned draws."""
ESS: Final = 400.0
EBFMI: Final = 0.3
FAR_APART: Final = 1.1
"""R-hat from which chains are taken to be in different places, and not merely short."""
AWAY: Final = 0.4
"""Share of the outcomes that a second process judges, beside the parameters."""
HIDDEN: Final = frozenset({"frailty"})
"""Variables that are sampled but neither printed nor judged one by one."""


@dataclass(frozen=True)
class Diagnosis:
    """How well the chains agree.

    Attributes
    ----------
    settled : bool
    rhat, rhat_outcomes : float
        The worst over parameters, and over printed outcomes; 1 where there are none.
    ess_bulk, ess_tail : float
        The worst over parameters and printed outcomes.
    worst : str
        Which parameter has the worst R-hat.
    divergences : int
    ebfmi : float
        The worst over chains; nan of draws that come without the sampler's record.
    runs : int
        How many runs it took: 1, 2 where the first was too short, 3 where that was not enough.
    reasons : tuple of str
        What kept the gate shut, in plain words.
    """

    settled: bool
    rhat: float
    rhat_outcomes: float
    ess_bulk: float
    ess_tail: float
    worst: str
    divergences: int
    ebfmi: float
    runs: int
    reasons: tuple[str, ...]

    @property
    def short(self) -> bool:
        """True when nothing went wrong but that there are too few draws: more of them may do."""
        enough = not math.isfinite(self.ebfmi) or self.ebfmi > EBFMI
        near = self.rhat <= FAR_APART and self.rhat_outcomes <= FAR_APART
        return not self.settled and not self.divergences and enough and near

    def as_dict(self) -> dict[str, Any]:
        """Plain values for ``diagnosis.json``."""
        known = self.ebfmi if math.isfinite(self.ebfmi) else None
        return asdict(self) | {"reasons": list(self.reasons), "ebfmi": known}


def flat(posterior: xr.Dataset) -> dict[str, npt.NDArray[np.float64]]:
    """Every judged number of a posterior, name to array (chain, draw)."""
    out = {}
    for name, values in posterior.data_vars.items():
        if name in HIDDEN:
            continue
        array = values.transpose("chain", "draw", ...).to_numpy()
        if array.ndim == 2:
            out[str(name)] = array
            continue
        for where in np.ndindex(*array.shape[2:]):
            label = ", ".join(
                str(values[dim].to_numpy()[i])
                for dim, i in zip(values.dims[2:], where, strict=True)
            )
            out[f"{name}[{label}]"] = array[(..., *where)]
    return out


def _different(numbers: Mapping[str, npt.NDArray[np.float64]]) -> list[str]:
    """Names of numbers, one of each that are the same in other units: their measures are equal."""
    seen: dict[bytes, str] = {}
    for name, array in numbers.items():
        low, wide = array.min(), np.ptp(array)
        seen.setdefault(np.round((array - low) / wide, 9).tobytes(), name)
    return list(seen.values())


def _measures(
    numbers: Mapping[str, npt.NDArray[np.float64]],
) -> tuple[list[str], npt.NDArray[np.float64]]:
    """R-hat, bulk and tail ESS of every number that varies; shape (3, numbers)."""
    from arviz_stats.base import array_stats  # type: ignore[attr-defined]  # exported, untyped

    # what never varies has nothing to settle; a number that is none must not slip out with it
    names = _different({n: a for n, a in numbers.items() if not np.ptp(a) <= 1e-12})
    if not names:
        return [], np.zeros((3, 0))
    stack = np.stack([numbers[n] for n in names])
    with np.errstate(divide="ignore", invalid="ignore"):  # a chain that stands still
        measures = [
            array_stats.rhat(stack, chain_axis=1, draw_axis=2),
            array_stats.ess(stack, chain_axis=1, draw_axis=2, method="bulk"),
            array_stats.ess(stack, chain_axis=1, draw_axis=2, method="tail", prob=(0.05, 0.95)),
        ]
    return names, np.stack(measures)


def _all_measures(
    parameters: Mapping[str, npt.NDArray[np.float64]],
    outcomes: Mapping[str, npt.NDArray[np.float64]],
    aside: bool,
) -> tuple[list[str], npt.NDArray[np.float64], int]:
    """`_measures` of parameters, then of outcomes; and how many of them are parameters."""
    cut = round(AWAY * len(outcomes)) if aside else 0
    items = list(outcomes.items())
    away = [parameters, dict(items[:cut])]
    begin = background.start if aside else background.when_asked
    begun = [begin(_measures, part) for part in away]
    here = _measures(dict(items[cut:]))
    parts = [*background.gathered(begun), here]
    names = [n for names, _ in parts for n in names]
    return names, np.concatenate([v for _, v in parts], axis=1), len(parts[0][0])


def _energy_information(energy: npt.NDArray[np.float64]) -> float:
    """Worst energy Bayesian fraction of missing information over chains."""
    moves = np.diff(energy, axis=1)
    return float(np.min((moves**2).mean(axis=1) / energy.var(axis=1)))


def _worst(names: list[str], rhat: npt.NDArray[np.float64]) -> tuple[float, str]:
    """Largest R-hat and whose it is; NaN counts as the largest."""
    if not names:
        return 1.0, ""
    at = int(rhat.argmax())
    return float(rhat[at]), names[at]


def judge(
    posterior: xr.Dataset,
    stats: xr.Dataset,
    outcomes: Mapping[str, npt.NDArray[np.float64]],
    *,
    runs: int = 1,
    aside: bool = False,
    asked: int | None = None,
) -> Diagnosis:
    """Hold a fit against the thresholds.

    Parameters
    ----------
    posterior, stats : Dataset
        As in `cohort.model.sample.Fit`. What the record of the sampler does not hold is not judged.
    outcomes : dict of arrays (chain, draw)
        Printed outcomes by name.
    runs : int
        Runs it took.
    aside : bool
        Judge the parameters and some of the outcomes in a second process meanwhile.
    asked : int, optional
        Draws that each chain was to give; with fewer the gate is shut.

    Returns
    -------
    Diagnosis
    """
    names, values, count = _all_measures(flat(posterior), outcomes, aside)
    bulk, tail = float(values[1].min()), float(values[2].min())
    rhat, worst = _worst(names[:count], values[0, :count])
    rhat_outcomes, which = _worst(names[count:], values[0, count:])
    diverging = int(stats["diverging"].sum()) if "diverging" in stats else 0
    ebfmi = math.nan
    if "energy" in stats:
        ebfmi = _energy_information(stats["energy"].transpose("chain", "draw").to_numpy())
    reasons = []
    have = min(posterior.sizes["draw"], stats.sizes.get("draw", posterior.sizes["draw"]))
    if asked is not None and have < asked:
        reasons.append(f"the sampler stopped after {have:,} of {asked:,} draws of each chain")
    for value, limit, name in ((rhat, RHAT, worst), (rhat_outcomes, RHAT_THINNED, which)):
        if not value <= limit:
            reasons.append(f"the chains do not agree on {name} ({value:.3f})")
    if not bulk >= ESS:
        reasons.append(
            f"too few independent draws of {names[int(values[1].argmin())]} ({bulk:.0f})"
        )
    if not tail >= ESS:
        reasons.append(
            f"too few independent draws in the tails of {names[int(values[2].argmin())]} "
            f"({tail:.0f})"
        )
    if diverging:
        reasons.append(f"{diverging} steps of the sampler went astray")
    if "energy" in stats and not ebfmi > EBFMI:
        reasons.append(f"a chain explored badly (energy fraction {ebfmi:.2f})")
    return Diagnosis(
        not reasons,
        rhat,
        rhat_outcomes,
        bulk,
        tail,
        worst,
        diverging,
        ebfmi,
        runs,
        tuple(reasons),
    )
