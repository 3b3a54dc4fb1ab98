"""What befell every founding of a season.

In: the plan of a season (one row per founding), the truth, a random generator.
Out: :class:`Fates`: deaths, first workers, queens taken out, first brood.
Never: knows of looks or sheets.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, fields
from functools import partial

import numpy as np
import pandas as pd

from cohort.simulate.events import Bools, Floats, Ints, run
from cohort.simulate.truth import GenusTruth, Truth
from cohort.terms.levels import AFTER, BEFORE, FIRST_WORKER, LEVELS, MATED, PARTS

__all__ = ["Fates", "first_brood", "live"]


@dataclass(frozen=True)
class Fates:
    """What happened in each founding of a plan; arrays of n rows, `deaths` (n, largest size)."""

    deaths: Floats
    first_worker: Floats
    taken_at: Floats
    taken: Ints
    brood: Ints

    def take(self, rows: Bools) -> Fates:
        """Return the fates of some rows."""
        return Fates(*(getattr(self, field.name)[rows] for field in fields(self)))


def live(
    plan: pd.DataFrame,
    truth: Truth,
    horizon: float,
    removals: tuple[Floats, Ints],
    rng: np.random.Generator,
    grown: Callable[[Floats, Ints], Floats] | None = None,
    winter: Floats | None = None,
) -> Fates:
    """Return the fates of all foundings of `plan` (columns genus, size, keeper, flight, seen).

    `grown`, if given, makes days of the first workers of some rows of `plan` (their numbers second)
    of the days at the reference temperature that they need. `winter` has the days on which winter
    rest of each begins and ends, see :func:`~cohort.simulate.events.run`.
    """
    n, widest = len(plan), int(plan["size"].max())
    moved = _moved(plan, truth, rng)
    deaths, hatched, gone_at = np.full((n, widest), np.inf), np.full(n, np.inf), np.full(n, np.inf)
    gone, brood = np.zeros(n, dtype=np.int64), np.zeros(n, dtype=np.int64)
    kinds = plan["genus"].to_numpy(dtype=object), plan["size"].to_numpy()
    for genus, k in sorted(set(zip(kinds[0].tolist(), kinds[1].tolist(), strict=True))):
        rows, own = np.flatnonzero((kinds[0] == genus) & (kinds[1] == k)), truth.genera[genus]
        seen = plan["seen"].to_numpy()[rows]
        at, number = removals[0][rows], removals[1][rows]
        by_warmth = None if grown is None else partial(_of_rows, grown, rows)
        paths = run(
            rows.size, k, own, rng, horizon, seen=seen, taken_at=at, taken=number, grown=by_warmth,
            shift=moved[BEFORE][rows], shift_after=moved[AFTER][rows],
            shift_day=moved[FIRST_WORKER][rows],
            shift_mated=moved[MATED][rows] if MATED in truth.slopes else None,
            winter=None if winter is None else winter[rows],
        )  # fmt: skip
        deaths[rows, :k], hatched[rows] = paths.deaths, paths.first_worker
        gone_at[rows], gone[rows] = paths.taken_at, paths.taken
        brood[rows] = first_brood(rows.size, k, own, rng)
    return Fates(deaths, hatched, gone_at, gone, brood)


def _moved(plan: pd.DataFrame, truth: Truth, rng: np.random.Generator) -> dict[str, Floats]:
    """What keeper, flight, season and covariates add to each founding, by the part they move.

    The draws of keepers and flights before workers are taken in any case, so that a study without
    differences between them is the same foundings.
    """
    out = {part: np.zeros(len(plan)) for part in PARTS}
    one = np.zeros(len(plan), dtype=np.int64)
    of = {"keeper": plan["keeper"].to_numpy(), "flight": plan["flight"].to_numpy(), "season": one}
    always = ("keeper_before", "flight_before")
    names = [(level.name, part, level.parameter(part)) for level in LEVELS for part in level.moves]
    for name, part, parameter in sorted(names, key=lambda row: row[2] not in always):
        sd = truth.level_sds.get(parameter, 0.0)
        if name in of and (sd or parameter in always):
            out[part] += sd * rng.standard_normal(of[name].max() + 1)[of[name]]
    for part, slopes in truth.slopes.items():
        for name, slope in slopes.items():
            out[part] += slope * _covariate(plan, name)
    return out


def _covariate(plan: pd.DataFrame, name: str) -> Floats:
    """Values of a covariate about their mean: a number, or whether it is the word behind ``:``."""
    column, _, word = name.partition(": ")
    if column not in plan:
        raise ValueError(f"slopes: the design gives out no '{column}'")
    values = plan[column].to_numpy()
    if word and not (values == word).any():
        raise ValueError(f"slopes: no founding has '{word}' as {column}")
    x = (values == word).astype(float) if word else values.astype(float)
    return np.asarray(x - x.mean())


def _of_rows(grown: Callable[[Floats, Ints], Floats], rows: Ints, need: Floats) -> Floats:
    return grown(need, rows)


def first_brood(n: int, size: int, truth: GenusTruth, rng: np.random.Generator) -> Ints:
    """Return workers 30 days after the first, negative binomial, array (n,); at least 1."""
    mean = np.exp(truth.log_brood + (truth.brood_ratio if size >= 2 else 0.0))
    each: Floats | float = mean
    if truth.brood_spread > 0:
        each = mean * rng.gamma(truth.brood_spread**-2, truth.brood_spread**2, n)
    return np.maximum(1, rng.poisson(each, n)).astype(np.int64)
