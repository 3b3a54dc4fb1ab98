"""Eight schools, through our sampler and our partial pooling, beside the exact posterior.

Rubin (1981, Journal of Educational Statistics 6:377), data and model (mu normal with SD 5, tau
half-Cauchy with scale 5) as in posteriordb, which prints mu 4.4105 (Monte Carlo error .033) and tau
3.6021. What is held here are exact integrals over tau: given tau all is normal.

Comes in: a seed. Goes out: draws, and lines. The schools stand in the place of genera: their
effects are built, pooled and sampled by the code that builds those of genera; only the likelihood
is theirs.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cache
from typing import Any, Final

import numpy as np
import numpy.typing as npt
from numba import carray  # type: ignore[attr-defined]  # carray is untyped

from cohort.likelihood import density
from cohort.likelihood import packing as at
from cohort.likelihood.callbacks import handed
from cohort.likelihood.genera import genus_priors, table_of
from cohort.model import nuts
from cohort.model.coordinates import MOVES, coordinates
from cohort.model.design import ModelDesign
from cohort.model.families import BetweenGenera
from cohort.model.information import Information
from cohort.model.log_posterior import LogPosterior, laid_out
from cohort.model.parameters import EFFECTS
from cohort.model.places import places
from cohort.model.priors import Priors
from cohort.prove.lines import Line, near
from cohort.terms.voice import told

Floats = npt.NDArray[np.float64]
SEED: Final = 8
EFFECT: Final = np.array([28.0, 8, -3, 7, -1, 1, 18, 12])
ERROR: Final = np.array([15.0, 10, 16, 11, 9, 11, 10, 18])
SCHOOLS: Final = len(EFFECT)
SCALE: Final = 5.0
WIDE: Final = 30.0
ERRORS: Final = 4.0
"""Monte Carlo errors by which a mean may miss."""


@dataclass(frozen=True)
class Sampled:
    """Draws of the schools, arrays (chain, draw, ...): means, SDs, effects by school; priors."""

    mean: Floats
    sd: Floats
    effects: Floats
    priors: Priors


def schools_c(width: Any, q_: Any, gradient_: Any, value_: Any, packed_: Any) -> Any:
    """Log posterior of the schools; effects as the founding model samples those of genera."""
    packed = carray(packed_, (int(carray(packed_, (1,), np.float64)[0]),), np.float64)
    q = carray(q_, (width,))
    p, effects = density.parameters(q, packed)
    rows = table_of(packed)
    at_tau = int(rows[int(packed[at.H_GENUS]), at.SD])
    gradient, d_effects, value = np.zeros(width), np.zeros(effects.shape), 0.0
    for school in range(SCHOOLS):
        gap = (effects[0, school] - EFFECT[school]) / ERROR[school]
        value -= 0.5 * gap * gap
        d_effects[0, school] = -gap / ERROR[school]
    # the code draws tau half-normal; this makes it half-Cauchy
    tau = q[at_tau]
    value += 0.5 * (tau / WIDE) ** 2 - math.log(1 + (tau / SCALE) ** 2)
    gradient[at_tau] += tau / WIDE**2 - 2 * tau / (SCALE**2 + tau**2)
    value += density.simple_priors(q, p, rows, 0, int(packed[at.H_GENUS]), gradient)
    value += genus_priors(p, d_effects, packed, gradient)
    value += density.multiplied_priors(q, p, packed, gradient)
    return handed(width, value, gradient, gradient_, value_)


def posterior() -> tuple[LogPosterior, Priors]:
    """All that the sampler reads of the schools, in the place of a study, and its priors."""
    priors = Priors().but(founding_hazard=BetweenGenera(0.0, SCALE, WIDE))
    none, known = np.zeros(0, np.int64), np.zeros((len(EFFECTS), SCHOOLS))
    known[0] = 1 / ERROR**2
    names = tuple(f"school {i}" for i in range(SCHOOLS))
    design = ModelDesign((), names, none, none, none, np.zeros((5, 7)), np.zeros((4, 7)), False)
    nothing = Information(known, np.zeros(0), np.zeros(at.STEPS), {}, np.zeros(len(MOVES)))
    chosen = coordinates(places(design), nothing, design, priors)
    target = laid_out(design, priors, chosen, np.zeros(0))
    for name in EFFECTS:
        target.score[target.where[name]] = 0.1  # any will do
    return target, priors


def sampled(seed: int, *, draws: int = 4000) -> Sampled:
    """The schools sampled: four chains."""
    target, priors = posterior()
    packed, width = target.packed, target.width
    q, _ = nuts.sample_nuts(
        schools_c, packed, width, lambda start: np.random.default_rng(start).normal(size=width),
        seed=seed, draws=draws, tune=1000, accept=0.95, chains=4,
    )  # fmt: skip
    p, effects = density.each(q.reshape(-1, width), packed)
    effects = effects.reshape(*q.shape[:2], len(EFFECTS), SCHOOLS)
    named = p.reshape(q.shape)
    first, last = EFFECTS[0], EFFECTS[-1]
    sd = np.abs(named[..., target.where[f"{first}_sd"].start : target.where[f"{last}_sd"].stop])
    mean = named[..., target.where[f"{first}_mean"].start : target.where[f"{last}_mean"].stop]
    return Sampled(mean, sd, effects, priors)


def not_yet_tried(of: Sampled) -> Floats:
    """One fresh school per draw: what the program makes of a genus nobody has tried."""
    from cohort.outcomes.parameters import _new_genus

    fresh = _new_genus(
        of.mean.reshape(-1, len(EFFECTS)),
        of.sd.reshape(-1, len(EFFECTS)),
        SCHOOLS,
        of.priors,
        np.random.default_rng(9),
        np.ones(len(EFFECTS)),
    )[:, 0]
    return fresh.reshape(of.mean.shape[:2])


def error_of(values: Floats) -> float:
    """Monte Carlo standard error of a mean; values (chain, draw)."""
    from arviz_stats.base import array_stats  # type: ignore[attr-defined]  # exported, untyped

    ess: Any = array_stats.ess  # it has no types
    independent = float(ess(values[None], chain_axis=1, draw_axis=2, method="mean")[0])
    return float(values.std() / math.sqrt(independent))


@cache
def exact() -> tuple[float, float, tuple[float, ...]]:
    """Posterior means of mu, tau and the eight effects, by an integral over tau."""
    x, w = np.polynomial.legendre.leggauss(400)
    angle = 0.25 * math.pi * (x + 1)  # tau = 5 tan(angle): the prior is flat in the angle
    total, mu, tau, effects = 0.0, 0.0, 0.0, np.zeros(SCHOOLS)
    for one, share in zip(SCALE * np.tan(angle), w, strict=True):
        cover = SCALE**2 * np.ones((SCHOOLS, SCHOOLS)) + one**2 * np.eye(SCHOOLS)
        whole = cover + np.diag(ERROR**2)
        solved = np.linalg.solve(whole, EFFECT)
        size = np.linalg.slogdet(whole)[1]
        weight = float(share * math.exp(-0.5 * (size + EFFECT @ solved)))
        total += weight
        mu += weight * SCALE**2 * float(solved.sum())
        tau += weight * float(one)
        effects += weight * (cover @ solved)
    return mu / total, tau / total, tuple(float(v) for v in effects / total)


def outside(of: Sampled) -> tuple[Line, ...]:
    """Means of the draws beside the exact ones, within four errors."""
    mu, tau, effects = exact()
    fresh, spread = not_yet_tried(of), of.sd[..., 0]
    rows = [
        (told("line_mu"), fresh, mu),
        (told("line_tau"), spread, tau),
        *(
            (told("line_school", number=str(i + 1)), of.effects[..., 0, i], value)
            for i, value in enumerate(effects)
        ),
    ]
    return tuple(
        near(what, float(values.mean()), wanted, ERRORS * error_of(values), 2)
        for what, values, wanted in rows
    )
