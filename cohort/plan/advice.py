"""What a keeper wants, the division that serves it best, and how sure that is.

Comes in: what was asked for, by division and draw. Goes out: the two divisions that are compared,
and a frozen `Advice`. Never: a word of advice (`cohort.plan.phrases`), a chance of its own.

Divisions that differ in a queen or two are no choice worth a sentence. So there are three ways:
each queen alone, every queen in a group, and some of each. Where each alone is best it is set
against the best division that leaves nobody alone (some of each only where there is none); a
division with a group in it is always set against the same queens apart.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Final

import numpy as np
import numpy.typing as npt

from cohort.base.errors import StudyError
from cohort.terms.near import did_you_mean
from cohort.terms.questions import EQUAL_CHANCE, EQUAL_PER_QUEEN, EQUAL_RATIO
from cohort.terms.voice import Told

Floats = npt.NDArray[np.float64]
Parts = tuple[int, ...]

WANTS: Mapping[str, str] = MappingProxyType(
    {"one": "at_least_one", "many": "colonies", "workers": "workers_strongest"}
)
"""What may be wanted, and the column of a plan that tells how well a division does it."""
CLOSE: Final = 1e-9


def wanted(word: str) -> str:
    """What is wanted, as one of `WANTS`.

    Raises
    ------
    StudyError
        No such want.
    """
    low = word.strip().lower()
    if low in WANTS:
        return low
    near = did_you_mean(word, WANTS, cutoff=0.5)
    raise StudyError(
        f"'{word}' is nothing a plan can aim at. Write one (at least one colony), many (as many "
        "colonies as possible) or workers (a strong colony soon)." + (f" {near}" if near else "")
    )


@dataclass(frozen=True)
class Advice:
    """The best division against the best of another way.

    Attributes
    ----------
    want : str
        One of `WANTS`.
    best, against : tuple of int
        Queens of each founding, largest first; empty where there is nothing to advise.
    value, other : float
        What is wanted, of both, on average.
    chance : float
        Share of draws in which the best is better; nan where there is nothing to advise.
    near : float
        Share of draws in which both are practically equal.
    prior_chance, prior_near : float
        The same of draws of the priors; nan where the draws are those of the priors.
    alike : bool
        True when both are practically equal on average.
    why_not : Told or None
        Why there is no advice; None where there is.
    """

    want: str
    best: Parts = ()
    against: Parts = ()
    value: float = math.nan
    other: float = math.nan
    chance: float = math.nan
    near: float = math.nan
    prior_chance: float = math.nan
    prior_near: float = math.nan
    alike: bool = False
    why_not: Told | None = None


def way(parts: Parts) -> str:
    """``apart`` (each alone), ``groups`` (nobody alone) or ``both``."""
    if max(parts) == 1:
        return "apart"
    return "groups" if min(parts) > 1 else "both"


def best_and_other(values: Floats, parts: tuple[Parts, ...]) -> tuple[int, int]:
    """Rows of the best division and of the best one of another way (-1: there is none).

    Parameters
    ----------
    values : float array, shape (divisions,)
        What is wanted, on average.
    parts : tuple of tuples
        The divisions.
    """
    ways = [way(one) for one in parts]
    best = int(values.argmax())
    for other in ("groups", "both") if ways[best] == "apart" else ("apart",):
        rest = [i for i, one in enumerate(ways) if one == other]
        if rest:
            return best, max(rest, key=lambda i: values[i])
    return best, -1


def practically_equal(
    one: Floats | float, other: Floats | float, want: str, queens: int
) -> npt.NDArray[np.bool_]:
    """Whether two divisions come to the same.

    Chances within 5 points, colonies within .05 for each queen, workers within .9 to 1.11 times.
    """
    a, b = np.asarray(one, dtype=float), np.asarray(other, dtype=float)
    if want == "workers":
        low, high = EQUAL_RATIO
        return np.asarray((a >= low * b - CLOSE) & (a <= high * b + CLOSE))
    margin = EQUAL_CHANCE if want == "one" else EQUAL_PER_QUEEN * queens
    return np.asarray(np.abs(a - b) <= margin + CLOSE)


def advice(
    want: str, best: Parts, against: Parts, now: Floats, before: Floats | None = None
) -> Advice:
    """How sure it is that one division beats another.

    Parameters
    ----------
    want : str
    best, against : tuple of int
    now, before : float arrays, shape (2, draws)
        What is wanted, of both, by draw: of the plan, and of the priors.
    """
    queens = sum(best)

    def told(pair: Floats) -> tuple[float, float]:
        equal = practically_equal(pair[0], pair[1], want, queens)
        return float((pair[0] > pair[1]).mean()), float(equal.mean())

    chance, near = told(now)
    prior_chance, prior_near = (math.nan, math.nan) if before is None else told(before)
    value, other = (float(row.mean()) for row in now)
    alike = bool(practically_equal(value, other, want, queens))
    return Advice(want, best, against, value, other, chance, near, prior_chance, prior_near, alike)
