"""What is true of a simulated study: the parameters of the founding model, by genus.

In: nothing, a mapping of genera, or a random generator (to draw from the priors).
Out: frozen :class:`GenusTruth` and :class:`Truth` values.
Never: reads data, fits anything, or imports any part that computes a likelihood.
"""

from __future__ import annotations

import dataclasses
import json
import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from cohort.terms.levels import FIRST_WORKER, LEVELS, PARTS

__all__ = ["FOUNDING_CUTS", "WORKER_CUTS", "GenusTruth", "Truth", "draw_truth"]

#: Days since day 0 at which the founding-phase hazard may change its level.
FOUNDING_CUTS: tuple[float, ...] = (0.0, 7.0, 21.0, 42.0, 70.0)
#: Days since the first worker at which the worker-phase hazard may change its level.
WORKER_CUTS: tuple[float, ...] = (0.0, 10.0, 30.0, 60.0)
#: The founding-phase piece whose level is 0 by definition (days 21 to 42).
REFERENCE_PIECE = 2


@dataclass(frozen=True)
class GenusTruth:
    """True parameters of one genus; every field has the symbol of the founding model beside it.

    Parameters
    ----------
    log_hazard : float
        a, log deaths per queen and day before workers, days 21-42, a queen that is alone.
    together : float
        b, log ratio of that hazard while two or more queens live, founded by two.
    doubling : float
        c, added to `together` per doubling of the starting size beyond two.
    founding_steps : tuple of 5 floats
        Log levels of the founding-phase hazard from days 0, 7, 21, 42, 70; the third is 0.
    log_hazard_workers : float
        l, log deaths per queen and day from the first worker on, days 0-10, a lone queen.
    worker_steps : tuple of 4 floats
        Log levels from 0, 10, 30, 60 days since the first worker; the first is 0.
    rivalry : float
        r, log ratio of that hazard while two or more queens live, founded by two.
    rivalry_doubling : float
        Added to `rivalry` per doubling of the starting size beyond two.
    last_fight : float
        theta, share (0..1) of losses from two queens with workers that take both.
    log_median_day : float
        m, log of the median day of the first worker of a fertile single founding.
    multi_days : float
        e, added to `log_median_day` when the founding began with two or more queens.
    within_days : float
        tau, standard deviation of the log day of the first worker.
    mated : float
        p, chance (0..1) that a queen not seen mating is mated.
    mating_seen : float
        Added to the logit of `mated` for a queen seen mating.
    frailty : float
        sigma, standard deviation of the founding's own log hazard (one value, both phases).
    winter : float
        Log ratio of a lone queen's hazard in winter rest to that of days 21-42 before workers, and
        with workers to that of their first ten days.
    winter_company : float
        Log ratio of that hazard while two or more queens live, in either phase.
    log_brood, brood_ratio, brood_spread : float
        First brood: log mean workers 30 days after the first worker (single founding), log
        ratio for two or more queens, and 1/sqrt(dispersion) of the negative binomial.

    Raises
    ------
    ValueError
        If a share is outside 0..1, a spread negative, or a reference level not 0.
    """

    log_hazard: float = math.log(0.003)
    together: float = 0.0
    doubling: float = 0.0
    founding_steps: tuple[float, ...] = (0.0, 0.0, 0.0, 0.0, 0.0)
    log_hazard_workers: float = math.log(0.002)
    worker_steps: tuple[float, ...] = (0.0, 0.0, 0.0, 0.0)
    rivalry: float = 1.0
    rivalry_doubling: float = 0.0
    last_fight: float = 0.17
    log_median_day: float = math.log(50.0)
    multi_days: float = -0.05
    within_days: float = 0.15
    mated: float = 0.9
    mating_seen: float = 1.0
    frailty: float = 0.5
    winter: float = -0.7
    winter_company: float = 0.0
    log_brood: float = math.log(10.0)
    brood_ratio: float = 0.3
    brood_spread: float = 0.4

    def __post_init__(self) -> None:
        """Refuse values that the model cannot have."""
        for name in ("last_fight", "mated"):
            if not 0.0 <= getattr(self, name) <= 1.0:
                raise ValueError(f"{name} is a share and must lie in 0..1: {getattr(self, name)}")
        for name in ("within_days", "frailty", "brood_spread"):
            if getattr(self, name) < 0.0:
                raise ValueError(f"{name} must not be negative: {getattr(self, name)}")
        if len(self.founding_steps) != len(FOUNDING_CUTS):
            raise ValueError(f"founding_steps needs {len(FOUNDING_CUTS)} levels")
        if len(self.worker_steps) != len(WORKER_CUTS):
            raise ValueError(f"worker_steps needs {len(WORKER_CUTS)} levels")
        if self.founding_steps[REFERENCE_PIECE] != 0.0 or self.worker_steps[0] != 0.0:
            raise ValueError("the level of days 21-42, and of the first days with workers, is 0")

    def log_ratio(self, size: int) -> float:
        """Log ratio of the founding-phase hazard while together, for a group begun by `size`."""
        return self.together + self.doubling * math.log2(size / 2) if size >= 2 else 0.0

    def log_rivalry(self, size: int) -> float:
        """Log ratio of the hazard while together with workers, for a group begun by `size`."""
        return self.rivalry + self.rivalry_doubling * math.log2(size / 2) if size >= 2 else 0.0

    def mated_if_seen(self) -> float:
        """Chance that a queen seen mating is mated."""
        if self.mated in (0.0, 1.0):
            return self.mated
        odds = self.mated / (1.0 - self.mated) * math.exp(self.mating_seen)
        return odds / (1.0 + odds)


@dataclass(frozen=True)
class Truth:
    """Truth of a whole study.

    Parameters
    ----------
    genera : mapping of str to GenusTruth
        One entry per genus of the study.
    level_sds : mapping of str to float
        Standard deviation between keepers, flights, ... by what it moves, such as
        ``{"keeper_before": 0.3}``; names are those of `cohort.terms.levels.Level.parameter`, and
        what is not named is 0. A simulated study is one season of kinds without species: of
        seasons it has one effect, of species none.
    slopes : mapping of str to mapping
        What a covariate adds to a part of the model (`cohort.terms.levels.PARTS`), by unit of a
        number or with a word, such as ``{"first_worker": {"housing: box": 0.1}}``. It is
        counted from the mean of the study, so that a genus has its numbers at that mean.
    threshold : float
        Degrees Celsius above which brood grows; read where the shelves have temperatures. The
        median day of each genus is then one of days at the mean temperature of the shelves.
    """

    genera: Mapping[str, GenusTruth] = field(default_factory=dict)
    level_sds: Mapping[str, float] = field(default_factory=dict)
    threshold: float = 12.0
    slopes: Mapping[str, Mapping[str, float]] = field(default_factory=dict)

    def __post_init__(self) -> None:
        """Refuse what is no name: a sheet would hold it, and a spreadsheet might run it."""
        odd = [name for name in self.genera if not name[:1].isalpha()]
        if odd:
            raise ValueError(f"{odd[0]!r} is no name of a genus; a name begins with a letter")
        known = {level.parameter(part) for level in LEVELS for part in level.moves}
        odd = [name for name in self.level_sds if name not in known]
        if odd:
            raise ValueError(f"level_sds: {odd[0]!r} is none of {', '.join(sorted(known))}")
        odd = [part for part in self.slopes if part not in PARTS]
        if odd:
            raise ValueError(f"slopes: {odd[0]!r} is none of {', '.join(PARTS)}")

    def as_json(self) -> str:
        """Return the truth as JSON text, numbers rounded to nine significant digits."""
        return json.dumps(_rounded(dataclasses.asdict(self)), indent=2, sort_keys=True) + "\n"

    @classmethod
    def from_json(cls, text: str) -> Truth:
        """Return the truth that :meth:`as_json` wrote (to nine digits)."""
        raw = json.loads(text)
        genera = {
            name: GenusTruth(**{key: _value(item) for key, item in fields.items()})
            for name, fields in raw["genera"].items()
        }
        return cls(
            genera, raw.get("level_sds", {}), raw.get("threshold", 12.0), raw.get("slopes", {})
        )


def _rounded(value: Any) -> Any:
    if isinstance(value, dict):
        return {key: _rounded(item) for key, item in value.items()}
    if isinstance(value, (list, tuple)):
        return [_rounded(item) for item in value]
    return float(f"{value:.9g}") if isinstance(value, float) else value


def _value(item: Any) -> Any:
    return tuple(item) if isinstance(item, list) else item


def _walk(rng: np.random.Generator, sd: float, pieces: int, start: int) -> tuple[float, ...]:
    """Random walk outwards from the piece `start`, whose level is 0."""
    levels = np.zeros(pieces)
    steps = rng.normal(0.0, sd, pieces)
    for i in range(start + 1, pieces):
        levels[i] = levels[i - 1] + steps[i]
    for i in range(start - 1, -1, -1):
        levels[i] = levels[i + 1] + steps[i]
    return tuple(float(x) for x in levels)


def draw_truth(genera: Iterable[str], rng: np.random.Generator) -> Truth:
    """Return one draw of all parameters from the priors of the founding model.

    Genus-specific: both log hazards, `together`, `rivalry`, `last_fight`, `log_median_day`.
    Common to all genera of a draw: the steps, `doubling`, `rivalry_doubling`, `multi_days`,
    `within_days`, `mated`, `mating_seen`, `frailty`, first brood, spread between levels.

    Parameters
    ----------
    genera : iterable of str
        Names of the genera.
    rng : numpy.random.Generator
        Source of the draw.
    """

    def half(sd: float) -> float:
        return abs(float(rng.normal(0.0, sd)))

    a, a_sd = rng.normal(math.log(0.004), 1.2), half(0.5)
    low, low_sd = rng.normal(math.log(0.002), 1.2), half(0.4)
    b, b_sd = rng.normal(0.0, 1.2), half(0.7)
    r, r_sd = rng.normal(0.5, 1.5), half(1.0)
    th, th_sd = rng.normal(-1.6, 0.8), half(0.8)
    m, m_sd = rng.normal(math.log(50.0), 0.35), half(0.3)
    common: dict[str, Any] = {
        "doubling": float(rng.normal(0.0, 0.4)),
        "rivalry_doubling": float(rng.normal(0.0, 0.3)),
        "founding_steps": _walk(rng, half(0.5), len(FOUNDING_CUTS), REFERENCE_PIECE),
        "worker_steps": _walk(rng, half(0.5), len(WORKER_CUTS), 0),
        "multi_days": float(rng.normal(-0.05, 0.25)),
        "within_days": float(rng.lognormal(-1.9, 0.6)),
        "mated": float(rng.beta(6.0, 1.5)),
        "mating_seen": float(rng.normal(1.0, 0.7)),
        "frailty": half(0.7),
        "log_brood": float(rng.normal(math.log(10.0), 0.7)),
        "brood_ratio": float(rng.normal(0.3, 0.5)),
        "brood_spread": half(1.0),
    }
    level_sds = {
        level.parameter(part): half(0.2 if part == FIRST_WORKER else 0.5)
        for level in LEVELS
        for part in level.moves
    }
    drawn = {
        name: GenusTruth(
            log_hazard=float(rng.normal(a, a_sd)),
            together=float(rng.normal(b, b_sd)),
            log_hazard_workers=float(rng.normal(low, low_sd)),
            rivalry=float(rng.normal(r, r_sd)),
            last_fight=float(1.0 / (1.0 + math.exp(-rng.normal(th, th_sd)))),
            log_median_day=float(rng.normal(m, m_sd)),
            **common,
        )
        for name in genera
    }
    return Truth(drawn, level_sds)
