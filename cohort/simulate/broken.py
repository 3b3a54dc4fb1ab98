"""Worlds in which an assumption of the model is broken, as the sheets a keeper would send.

In: nothing. Out: :data:`SCENARIOS`, each a :class:`~cohort.simulate.scenario.Scenario`.
Never: a part of the model. Who must judge how far a comparison can be trusted needs studies that
go wrong in a known way: a check that flags none of them is no check.
"""

from __future__ import annotations

import dataclasses
import math
from functools import partial
from typing import Any, Final

import numpy as np
import pandas as pd

from cohort.simulate.daily import Lives, Moment
from cohort.simulate.design import Design
from cohort.simulate.events import Floats, Ints
from cohort.simulate.looks import Looks
from cohort.simulate.scenario import Scenario
from cohort.simulate.truth import GenusTruth, Truth

__all__ = ["CLEAN", "GENERA", "SCENARIOS"]

_OWN: Final[dict[str, Any]] = {"frailty": 0.5, "mated": 0.85, "multi_days": -0.05, "rivalry": 1.2}
GENERA: Final = {
    "Lasius": GenusTruth(
        log_hazard=math.log(0.006), together=0.2, log_median_day=math.log(42.0), **_OWN
    ),
    "Messor": GenusTruth(
        log_hazard=math.log(0.004), together=-0.1, log_median_day=math.log(55.0), **_OWN
    ),
}
"""Two genera in which little speaks for either way; what is broken must not hide behind much."""
USUAL: Final = Design(foundings=120, sizes=(1, 3), look_every=7, horizon=180)


_world = partial(Scenario, design=USUAL, truth=Truth(dict(GENERA)))


# --- queens put where they are put for a reason ---------------------------------------------------


def _good_queens_singly(plan: pd.DataFrame, rng: np.random.Generator) -> pd.DataFrame:
    """Half of the foundings are of good queens; 85 in 100 of these are single, 15 of the others."""
    good = rng.random(len(plan)) < 0.5
    single = rng.random(len(plan)) < np.where(good, 0.85, 0.15)
    several = plan["size"].max()
    return plan.assign(
        quality=np.where(good, -0.8, 0.8), size=np.where(single, 1, several), assigned="chosen"
    )


def _seen_mating(plan: pd.DataFrame, rng: np.random.Generator) -> pd.DataFrame:
    """The same, and keepers wrote down by what they went: good queens were mostly seen mating."""
    chosen = _good_queens_singly(plan, rng)
    known = rng.random(len(plan)) < np.where(chosen["quality"] < 0, 0.7, 0.2)
    return chosen.assign(seen=np.where(known, chosen["size"], 0))


def _unlike_keepers(plan: pd.DataFrame, rng: np.random.Generator) -> pd.DataFrame:
    """Log hazards of two keepers, 1 above and 1 below the ordinary: an SD of 1.

    Two drawn from a normal of SD 1 would be much alike in every third study.
    """
    return plan.assign(handling=np.where(plan["keeper"] == 0, -1.0, 1.0))


def _handling(now: Moment) -> Floats:
    ordinary = now.plan["keeper"].to_numpy() < 0
    return np.where(ordinary, 0.0, now.plan["handling"].to_numpy(dtype=float))


def _quality(now: Moment) -> Floats:
    return now.plan["quality"].to_numpy(dtype=float)


# --- what queens die of ---------------------------------------------------------------------------


def _large_groups_fight(now: Moment) -> Floats:
    """Rivalry of 1.2 in pairs falls away below four queens and triples from six on."""
    step = np.where(now.plan["size"].to_numpy() >= 5, 1.3, -1.2)
    return np.where(now.with_workers & now.company, step, 0.0)


def _unmated_first(now: Moment) -> Floats:
    """In company an unmated queen dies at four times the hazard, a mated one at half of it."""
    differ = np.where(now.mated, math.log(0.5), math.log(4.0))
    return np.asarray(np.where(now.company[:, None], differ, 0.0))


def _cold_autumn(now: Moment) -> Floats:
    """From day 120 after the first flight on queens die at six times the hazard."""
    season = now.plan["start"].to_numpy() + now.day
    return np.where(season >= 120, math.log(6.0), 0.0)


def _bad_week(now: Moment) -> Floats:
    """One keeper's shelf dries out for nine days: thirty times the hazard for all on it."""
    season = now.plan["start"].to_numpy() + now.day
    struck = (now.plan["keeper"].to_numpy() == 0) & (season >= 62) & (season < 71)
    return np.where(struck, math.log(30.0), 0.0)


def _company_at_first(now: Moment) -> Floats:
    """Company triples the hazard in the first two weeks, and halves it from then to workers."""
    course = math.log(3.0) if now.day < 14 else math.log(0.5)
    return np.where(now.company & ~now.with_workers, course, 0.0)


def _two_humps(plan: pd.DataFrame, rng: np.random.Generator) -> pd.DataFrame:
    """Half of the foundings rest before they breed: their first workers come twice as late."""
    return plan.assign(late_brood=np.where(rng.random(len(plan)) < 0.5, 0.35, -0.35))


# --- when one looks, and what is written ----------------------------------------------------------


def _alive_at(plan: pd.DataFrame, looks: Looks, lives: Lives) -> Ints:
    dead = (lives.deaths[:, :, None] <= looks.days[:, None, :]).sum(axis=1)
    return np.asarray(plan["size"].to_numpy()[:, None] - dead, dtype=np.int64)


def _only_after_losses(
    plan: pd.DataFrame, looks: Looks, lives: Lives, rng: np.random.Generator
) -> Looks:
    """A look is made only where a queen has died since the last, or workers came, or at the end."""
    alive = _alive_at(plan, looks, lives)
    lost = np.diff(alive, axis=1, prepend=plan["size"].to_numpy()[:, None]) < 0
    workers = lives.first_worker[:, None] <= looks.days
    came = np.diff(workers.astype(np.int64), axis=1, prepend=0) > 0
    end = looks.days == looks.last[:, None]
    return Looks(looks.days, looks.open & (lost | came | end))


def _empties_forgotten(
    plan: pd.DataFrame, looks: Looks, lives: Lives, rng: np.random.Generator
) -> Looks:
    """Of an empty container nothing is written: the last look is the last one with a queen."""
    empty = _alive_at(plan, looks, lives) == 0
    silent = rng.random(len(plan)) < 0.7
    return Looks(looks.days, looks.open & ~(empty & silent[:, None]))


def _called_accidents(
    sheets: dict[str, pd.DataFrame | str], rng: np.random.Generator
) -> dict[str, pd.DataFrame | str]:
    """Six in ten losses of the last queen are put down to an accident with the container."""
    checks = sheets["checks.csv"]
    assert isinstance(checks, pd.DataFrame)
    empty = checks[checks["queens_alive"] == 0]
    blamed = empty[rng.random(len(empty)) < 0.6]
    events = pd.DataFrame({"founding": blamed["founding"], "date": blamed["date"], "event": "end"})
    return sheets | {"events.csv": events.assign(number="", other="accident")}


def _one_hides(
    sheets: dict[str, pd.DataFrame | str], rng: np.random.Generator
) -> dict[str, pd.DataFrame | str]:
    """With workers, one queen of three or more is overlooked from some look on in half the groups.

    No count rises again: she is overlooked to the end, or until as few are left.
    """
    checks = sheets["checks.csv"]
    assert isinstance(checks, pd.DataFrame)
    seen = checks["queens_alive"].to_numpy()
    workers = (checks["workers"] != "0") & (checks["workers"] != "")
    names = checks["founding"].unique()
    hides = dict(zip(names, rng.random(len(names)) < 0.5, strict=True))
    hidden = checks["founding"].map(hides).to_numpy(dtype=bool) & workers.to_numpy() & (seen >= 2)
    return sheets | {"checks.csv": checks.assign(queens_alive=np.where(hidden, seen - 1, seen))}


CLEAN: Final = _world(
    "clean", "Nothing is wrong: looks every week, all by lot, queens live as the model has it."
)
SCENARIOS: Final = {
    one.name: one
    for one in (
        CLEAN,
        _world(
            "good-queens-singly",
            "Keepers put their best queens singly, and wrote nothing down that would show it.",
            "which queens are housed singly is independent of how good they are",
            ("queen_survival", "colony"),
            plan=_good_queens_singly,
            rule=_quality,
        ),
        _world(
            "seen-mating-singly",
            "Keepers put their best queens singly; most of these were seen mating.",
            "which queens are housed singly is independent of how good they are",
            ("queen_survival", "colony"),
            plan=_seen_mating,
            rule=_quality,
        ),
        _world(
            "two-keepers",
            "Two keepers, one of whom loses many more queens than the other.",
            "keepers differ by less than genera",
            ("queen_survival", "colony"),
            design=dataclasses.replace(USUAL, keepers=2),
            plan=_unlike_keepers,
            rule=_handling,
        ),
        _world(
            "large-groups-fight",
            "With workers, queens of pairs and trios tolerate each other and those of six fight.",
            "rivalry changes evenly with each doubling of the group",
            ("queens_after_workers", "colony"),
            design=dataclasses.replace(USUAL, sizes=(1, 2, 3, 6), foundings=128),
            rule=_large_groups_fight,
        ),
        _world(
            "two-humps",
            "Half of the foundings rest before they breed: first workers come in two humps.",
            "log days of the first worker are normal within a genus",
            ("first_worker",),
            plan=_two_humps,
        ),
        _world(
            "looks-after-losses",
            "Containers are looked into only once a queen has died, or workers came.",
            "when one looks does not depend on what is to be seen",
            ("queen_survival", "queens_after_workers", "colony"),
            looks=_only_after_losses,
        ),
        _world(
            "unmated-die-first",
            "In company unmated queens die at eight times the hazard of mated ones.",
            "mated and unmated queens die alike",
            ("colony",),
            truth=Truth({n: dataclasses.replace(t, mated=0.6) for n, t in GENERA.items()}),
            rule=_unmated_first,
        ),
        _world(
            "cold-autumn",
            "From late summer on queens die at six times the hazard, whatever their age.",
            "hazards run by the age of the founding, not by the season",
            ("queen_survival", "queens_after_workers", "colony"),
            rule=_cold_autumn,
        ),
        _world(
            "bad-week",
            "One keeper's shelf dried out for nine days, and most foundings on it died together.",
            "foundings die independently of each other",
            ("queen_survival", "colony"),
            rule=_bad_week,
        ),
        _world(
            "company-at-first",
            "Company harms in the first two weeks and helps from then on.",
            "the effect of company is the same throughout the founding phase",
            ("queen_survival", "colony"),
            rule=_company_at_first,
        ),
        _world(
            "empties-forgotten",
            "Of a container found empty keepers mostly wrote nothing.",
            "a founding that is no longer looked at is like the others",
            ("queen_survival", "first_worker", "colony"),
            looks=_empties_forgotten,
        ),
        _world(
            "losses-called-accidents",
            "Six in ten foundings that lost their last queen were entered as accidents.",
            "accidents happen to foundings whatever their queens do",
            ("queen_survival", "first_worker", "colony"),
            sheets=_called_accidents,
        ),
        _world(
            "one-hides",
            "With workers one queen is overlooked in half of the groups.",
            "counts are right",
            ("queens_after_workers", "colony"),
            sheets=_one_hides,
        ),
    )
}
"""Every world by its name, the clean one first."""
