"""The priors of the founding model, in numbers, with the reason for each.

Comes in: nothing. Goes out: `Priors`, read by `coordinates` (for the density that is sampled), by
`graph` (the model in PyMC) and by `draw` (what the priors alone say). Never: data.

Rows are those of ``data/findings.csv``, by their number. Few of these numbers rest on a row; the
others are guesses, and say so. Mortality rests on one. Row 6 (Stukalyuk & Czaczkes 2024, groups of
*Lasius niger*) has 75 % of queens alive at 227 days in a dense population, which is 0.0013 a day
if deaths are even, and fewer than 20 % at 130 days in an ordinary one, which is 0.0124 a day or
more. Both take in deaths after the first workers and by rivals, so neither is the hazard of a lone
founding queen. The priors were set from "0.0012-0.0050 a day"; no row gives 0.0050, and where it
was read is not recorded. Against Normal(log 0.003, 0.8) the 0.0124 lies 1.8 SDs up: seldom, not
ruled out. Wild foundings fail in up to 95 and 99 of 100 cases (rows 29 and 30); kept ones are
spared most of what kills those.

The threshold of the degree-days is one number for all genera of a study: shelf logs are few, and
within a study the threshold is known from the differences between shelves alone. Normal(12, 3),
cut off at 4 C and at 20 C or 3 C below the mean of the shelves. Published thresholds are 18.3 C
(*Solenopsis invicta*, Porter 1988 as given by Jarosik et al. 2011) and 15.9 and 18.4 C
(*Linepithema humile*, two studies); both live in warm countries, and the higher ones lie two SDs
up. For species of cooler summers no value was found; that their brood grows at room temperature
in spring puts it lower. The centre is a guess.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from math import log
from typing import Final

import numpy as np
import numpy.typing as npt

from cohort.warmth import LOG_DAYS_PER_DEGREE

EFFECTS: Final = (
    "founding_hazard",
    "together",
    "worker_hazard",
    "rivalry",
    "last_fight",
    "first_worker",
)
"""Genus effects, in the order of every array that holds them all.

founding_hazard: log daily hazard of a lone founding queen, days 21-42. together: log ratio of
the hazard while two or more live, before workers. worker_hazard: log daily hazard of a lone
queen in the first ten days with workers. rivalry: log ratio while two or more live, after
workers. last_fight: logit of the share of losses from two that take both. first_worker: mean
log day of the first worker.
"""


@dataclass(frozen=True)
class GenusPrior:
    """Prior of one genus effect: its mean over all genera, and the spread between genera.

    Attributes
    ----------
    mean, sd : float
        Normal prior of the mean over genera.
    between : float
        Scale of the half-normal prior of the SD between genera.
    why : str
    """

    mean: float
    sd: float
    between: float
    why: str


def _genus_priors() -> dict[str, GenusPrior]:
    return {
        "founding_hazard": GenusPrior(
            log(0.003),
            0.8,
            0.5,
            "a guess between 0.0013 and 0.0124 or more per day, both of groups and past the first "
            "workers (findings.csv row 6); no row has lone queens before workers",
        ),
        "together": GenusPrior(
            0.0,
            0.7,
            0.7,
            "the sign of the effect of company differs between genera (findings.csv, better: "
            "rows 18, 19, 25; worse: rows 11, 16, 21, 27)",
        ),
        "worker_hazard": GenusPrior(
            log(0.002),
            0.8,
            0.4,
            "a guess: 75 % alive at 227 days is 0.0013 per day (findings.csv row 6, of groups)",
        ),
        "rivalry": GenusPrior(
            1.0,
            1.0,
            1.0,
            "reduced to one queen in some genera (findings.csv rows 2, 8), several or all kept "
            "in others (rows 9, 20, 28)",
        ),
        "last_fight": GenusPrior(
            -1.6,
            0.8,
            0.8,
            "all lost in over 60 % of groups in one study (findings.csv row 5); in few in others, "
            "a guess",
        ),
        "first_worker": GenusPrior(
            log(50.0),
            0.35,
            0.3,
            "25 to 94 days by temperature and species: a guess, no row of findings.csv gives days",
        ),
    }


@dataclass(frozen=True)
class Priors:
    """Every prior of the founding model.

    Attributes
    ----------
    genus : dict of GenusPrior
        By name of the effect, see `EFFECTS`.
    size_step_sd : float
        Change of `together` per doubling of the group beyond two: Normal(0, this). Intermediate
        groups do best in some genera (row 19; row 12: two above one, four not), large ones worst
        in others (row 27).
    walk : float
        Half-normal scale of the SD of the steps between pieces of the log hazards.
    within_days : tuple of float
        Normal prior of the log of tau, the SD of the log day of the first worker within a genus:
        median .15, nine in ten between .06 and .40. Common experience, no source: foundings of
        one kind on one shelf differ by some days, never by none; kinds under one genus and
        shelves of several warmths by more. A prior that reaches nought lets looks days apart
        draw walls into the likelihood (see DEVELOPERS.md).
    multi_days : tuple of float
        Normal prior of the log time ratio multi against single: eight per cent earlier (row 24),
        no difference (row 22), and about nine days earlier (row 14) have all been published.
    frailty : float
        Half-normal scale of the SD of founding frailty; .48-.81 was found in caged bees
        (no row; where it was read is not recorded here).
    mated : tuple of float
        Beta prior of the share of mated queens. No share is published: a guess.
    seen : tuple of float
        Normal prior of what a mating that was seen adds on the logit of being mated.
    keeper : float
        Half-normal scale of the SD between keepers, and between flights.
    loading : tuple of float
        Normal prior of the weight of the frailty after workers, where a variant leaves it free.
    covariate : float
        Normal SD of the effect of a scaled covariate on the log founding hazard.
    warm_days : tuple of float
        Normal prior of the change of the log day of the first worker per degree Celsius, see
        `cohort.warmth`.
    warm_threshold : tuple of float
        Normal prior, cut off as `cohort.warm_clock.thresholds` says, of the temperature above
        which a shelf with a log counts, degrees Celsius.
    """

    genus: dict[str, GenusPrior] = field(default_factory=_genus_priors)
    size_step_sd: float = 0.3
    walk: float = 0.5
    within_days: tuple[float, float] = (-1.9, 0.6)
    multi_days: tuple[float, float] = (-0.05, 0.10)
    frailty: float = 0.7
    mated: tuple[float, float] = (9.0, 1.0)
    seen: tuple[float, float] = (1.0, 0.7)
    keeper: float = 0.3
    covariate: float = 0.5
    loading: tuple[float, float] = (1.0, 0.5)
    warm_days: tuple[float, float] = LOG_DAYS_PER_DEGREE
    warm_threshold: tuple[float, float] = (12.0, 3.0)

    def column(self, what: str) -> npt.NDArray[np.float64]:
        """One number of every genus prior (``mean``, ``sd`` or ``between``), shape (effects,)."""
        return np.array([getattr(self.genus[name], what) for name in EFFECTS])


def draw(
    priors: Priors, genera: int, draws: int, rng: np.random.Generator, *, pooled_fight: bool = False
) -> dict[str, npt.NDArray[np.float64]]:
    """Parameters drawn from the priors alone.

    Parameters
    ----------
    priors : Priors
    genera : int
        Genera of the study.
    draws : int
    rng : numpy Generator
    pooled_fight : bool
        One theta for all genera.

    Returns
    -------
    dict of arrays
        The names and shapes of the posterior, first axis ``draws``.
    """
    mean, sd, between = (priors.column(c) for c in ("mean", "sd", "between"))
    spread = np.abs(rng.normal(size=(draws, len(EFFECTS)))) * between
    active = spread.copy()
    if pooled_fight:
        active[:, EFFECTS.index("last_fight")] = 0.0
    centre = rng.normal(mean, np.sqrt(sd**2 + active**2 / genera), size=(draws, len(EFFECTS)))
    raw = rng.normal(size=(draws, len(EFFECTS), genera))
    raw -= raw.mean(axis=2, keepdims=True)
    walk_sd = np.abs(rng.normal(size=(draws, 2))) * priors.walk
    return {
        "genus_mean": centre,
        "genus_sd": spread,
        "genus": centre[:, :, None] + active[:, :, None] * raw,
        "size_step": rng.normal(0.0, priors.size_step_sd, draws),
        "walk_sd": walk_sd,
        "walk": rng.normal(size=(draws, 7)),
        "within_days": rng.lognormal(*priors.within_days, draws),
        "multi_days": rng.normal(*priors.multi_days, draws),
        "frailty_sd": np.abs(rng.normal(0.0, priors.frailty, draws)),
        "mated": rng.beta(*priors.mated, draws),
        "seen": rng.normal(*priors.seen, draws),
    }
