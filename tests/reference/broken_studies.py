"""Small seasons in which one assumption of the model does not hold, and one in which all do.

Lived through by the event simulator, which shares no formula with the model; each function gives
the history of a season for a seed.
"""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Callable, Mapping

import numpy as np
from scenes import history_of

from cohort.history import History
from cohort.simulate.events import run
from cohort.simulate.truth import GenusTruth

HORIZON = 168
SHARED = {"within_days": 0.15, "mated": 0.85, "frailty": 0.5, "multi_days": -0.05}
LASIUS = GenusTruth(
    log_hazard=math.log(0.004), together=-0.3, rivalry=2.0, last_fight=0.3,
    log_median_day=math.log(42.0), **SHARED,
)  # fmt: skip
MESSOR = GenusTruth(
    log_hazard=math.log(0.004), together=0.4, rivalry=0.5, last_fight=0.1,
    log_median_day=math.log(52.0), **SHARED,
)  # fmt: skip
GENERA = {"Lasius": LASIUS, "Messor": MESSOR}

type Look = tuple[float, int, int]
type Days = Callable[[np.ndarray, float], list[float]]


def weekly(deaths: np.ndarray, first: float) -> list[float]:
    """A look every seven days."""
    return [float(day) for day in range(7, HORIZON + 1, 7)]


def only_after_losses(deaths: np.ndarray, first: float) -> list[float]:
    """A look when a queen has died, when workers are there, and on the last day."""
    days = {float(math.ceil(d)) for d in (*deaths, first) if d < HORIZON}
    return sorted(days | {float(HORIZON)})


def life(size: int, truth: GenusTruth, rng: np.random.Generator, days: Days) -> tuple[Look, ...]:
    """What is seen of one founding."""
    path = run(1, size, truth, rng, HORIZON)
    deaths, first = path.deaths[0], float(path.first_worker[0])
    looks = []
    for day in days(deaths, first):
        alive = size - int((deaths <= day).sum())
        looks.append((day, alive, int(first <= day)))
        if not alive:
            break
    return tuple(looks)


def season(
    seed: int,
    change: Callable[[GenusTruth, Mapping[str, object], np.random.Generator], GenusTruth] = (
        lambda truth, who, rng: truth
    ),
    *,
    foundings: int = 64,
    sizes: tuple[int, ...] = (1, 3),
    keepers: int = 2,
    days: Days = weekly,
    chosen: bool = False,
) -> History:
    """A season of two genera; ``change`` gives each founding a truth of its own.

    Every keeper has every size of every genus equally often.
    """
    rng = np.random.default_rng([seed, 17])
    sets, more = [], {}
    for i in range(foundings):
        lot, size = divmod(i, len(sizes))
        genus = list(GENERA)[lot % 2]
        who = {
            "genus": genus, "keeper": f"K{lot // 2 % keepers + 1}", "size": sizes[size],
            "assigned": "chosen" if chosen else "random",
        }  # fmt: skip
        truth = change(GENERA[genus], who, rng)
        sets.append((sizes[size], life(sizes[size], truth, rng, days)))
        more[f"F{i}"] = {k: v for k, v in who.items() if k != "size"}
    return history_of(sets, more=more)


def clean(seed: int) -> History:
    """All as the model has it."""
    return season(seed)


def _harder(truth: GenusTruth, by: float) -> GenusTruth:
    return dataclasses.replace(
        truth, log_hazard=truth.log_hazard + by, log_hazard_workers=truth.log_hazard_workers + by
    )


def keepers_differ(seed: int, sd: float = 1.0) -> History:
    """Two keepers whose queens die at rates of their own, before and after workers.

    Log rates half the square root of 2 on either side of the mean: two numbers whose SD is 1. Drawn
    anew, two keepers of SD 1 are alike in one season of four, and there is nothing to find.
    """
    by = sd / math.sqrt(2)
    return season(seed, lambda t, who, _: _harder(t, by if who["keeper"] == "K1" else -by))


def rivalry_grows(seed: int, step: float = 1.2) -> History:
    """Rivalry after workers grows with each doubling of the group beyond two."""

    def change(truth: GenusTruth, who: Mapping[str, object], _: object) -> GenusTruth:
        doublings = math.log2(max(int(str(who["size"])), 2) / 2)
        return dataclasses.replace(truth, rivalry=step * doublings)

    return season(seed, change, foundings=80, sizes=(1, 2, 4, 6))


def two_humps(seed: int, apart: float = 0.6) -> History:
    """First workers come early in half of the foundings of a genus and late in the other half."""

    def change(truth: GenusTruth, _: object, rng: np.random.Generator) -> GenusTruth:
        shift = apart * (rng.integers(0, 2) - 0.5)
        return dataclasses.replace(truth, log_median_day=truth.log_median_day + shift)

    return season(seed, change)


def looks_after_losses(seed: int) -> History:
    """Containers are opened when a queen has died or workers are there, else on the last day."""
    return season(seed, days=only_after_losses)


def good_queens_singly(seed: int, by: float = 0.8, share: float = 0.85) -> History:
    """Better queens are put singly, 85 of 100, and nobody notes which were the better."""

    def change(
        truth: GenusTruth, who: Mapping[str, object], rng: np.random.Generator
    ) -> GenusTruth:
        good = rng.random() < (share if who["size"] == 1 else 1 - share)
        return _harder(truth, -by if good else by)

    return season(seed, change, foundings=120, chosen=True)


BROKEN = {
    "keepers differ": keepers_differ,
    "rivalry grows": rivalry_grows,
    "two humps": two_humps,
    "looks after losses": looks_after_losses,
    "good queens singly": good_queens_singly,
}
