"""A small study whose truth was drawn from the priors, as the sheets a keeper would send.

Comes in: a seed. Goes out: the draw of the priors and a `Study` read back from sheets. What was
designed (sizes, calendars, who enters late, who gives up, which workers were not looked for) is
drawn without regard to the truth, as ranks require. Never: a transition, a likelihood.
"""

from __future__ import annotations

import datetime as dt
import tempfile
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

import numpy as np
import numpy.typing as npt
import pandas as pd

from cohort.base.errors import StudyError
from cohort.likelihood.layout import E_LAST_FIGHT
from cohort.model.design import ModelDesign, walk_steps
from cohort.model.parameters import BY_GENUS, COMMON
from cohort.model.priors import Priors, draw
from cohort.simulate.events import Paths, run
from cohort.simulate.truth import GenusTruth
from cohort.study import Study, read_study

Floats = npt.NDArray[np.float64]
Drawn = dict[str, Floats]
FIRST_DAY: Final = dt.date(2025, 6, 1)
MOST_TRIES: Final = 20
"""Batches of foundings lived through, each twice as large as the last, until one is found that
was as it has to be at a late entry."""


@dataclass(frozen=True)
class Shape:
    """What every study of a calibration has in common.

    Attributes
    ----------
    fewest, most : int
        Foundings, drawn study by study; genera take turns, and half of each are single.
    genera : tuple of str
    groups : tuple of int
        Sizes a group may have.
    rhythms : tuple of int
        Mean days between looks; a founding has one of them, and its gaps vary by half of it.
    horizon : int
        Days followed.
    late, gave_up, blank, out : float
        Share of foundings followed only from day 10 to 18, of those given up before the
        horizon, of looks at which workers were not looked for, and of groups from which one
        queen is given away.
    pooled_fight : bool
        One theta for all genera.
    """

    fewest: int = 16
    most: int = 24
    genera: tuple[str, ...] = ("Lasius", "Messor")
    groups: tuple[int, ...] = (2, 3, 4)
    rhythms: tuple[int, ...] = (7, 14, 21)
    horizon: int = 150
    late: float = 0.2
    gave_up: float = 0.2
    blank: float = 0.1
    out: float = 0.25
    pooled_fight: bool = False


def names(count: int) -> tuple[str, ...]:
    """Ids of that many foundings."""
    return tuple(f"K1-{i + 1:02d}" for i in range(count))


@dataclass(frozen=True)
class Plan:
    """What was designed for one founding.

    Attributes
    ----------
    genus_code : int
    size : int
    start : int
        Days after the first day of the season.
    entry : int
        Day first followed; 0 is day 0.
    days : float array
        Days of looking since day 0, ascending; the first is the day of a late entry.
    blank : bool array
        Looks at which nobody looked for workers.
    out_at : float
        Day after whose look one queen is given away; inf if none is.
    gave_up : bool
        Whether the last look is the keeper's last before the horizon.
    """

    genus_code: int
    size: int
    start: int
    entry: int
    days: Floats
    blank: npt.NDArray[np.bool_]
    out_at: float
    gave_up: bool


def plans(shape: Shape, rng: np.random.Generator) -> list[Plan]:
    """The design of a study; it knows nothing of the truth."""
    out = []
    for i in range(int(rng.integers(shape.fewest, shape.most + 1))):
        group = (i // len(shape.genera)) % 2 == 1
        size = int(rng.choice(shape.groups)) if group else 1
        entry = int(rng.integers(10, 19)) if rng.random() < shape.late else 0
        gave_up = bool(rng.random() < shape.gave_up)
        last = int(rng.integers(50, shape.horizon - 10)) if gave_up else shape.horizon
        rhythm = int(rng.choice(shape.rhythms))
        gaps = rng.integers(max(1, rhythm // 2), rhythm + rhythm // 2 + 1, size=last)
        steps = entry + np.cumsum(gaps)
        first = [float(entry)] if entry else []
        days = np.array([*first, *steps[steps < last].tolist(), last], float)
        blank = rng.random(len(days)) < shape.blank
        blank[: len(first)] = False
        could = days[(days >= 10) & (days <= 100) & (days > entry)]
        gives = size >= 2 and rng.random() < shape.out and len(could) > 0
        out_at = float(rng.choice(could)) if gives else np.inf
        start = int(rng.integers(0, 11))
        out.append(Plan(i % len(shape.genera), size, start, entry, days, blank, out_at, gave_up))
    return out


def truths(drawn: Drawn) -> list[GenusTruth]:
    """The truth of each genus for the simulator, from one draw of the priors (first axis 1)."""
    one = {name: values[0] for name, values in drawn.items()}
    steps1, steps2 = every_step()
    walk = one["walk"] * np.repeat(one["walk_sd"], [4, 3])
    common: dict[str, Any] = {
        row.truth: float(one[row.name]) for row in COMMON if row.truth and row.name in one
    }
    common |= {
        "founding_steps": tuple(float(v) for v in steps1 @ walk),
        "worker_steps": tuple(float(v) for v in steps2 @ walk),
    }
    effects = one["genus"].copy()
    effects[E_LAST_FIGHT] = 1 / (1 + np.exp(-effects[E_LAST_FIGHT]))
    by_genus = [
        {row.truth: float(value) for row, value in zip(BY_GENUS, own, strict=True)}
        for own in effects.T
    ]
    return [GenusTruth(**(common | own)) for own in by_genus]


def every_step() -> tuple[Floats, Floats]:
    """Steps of the hazards when none is dropped for want of losses: the priors know no losses."""
    late = np.full(3, 1000.0)
    return walk_steps(late, late)


def design_of(shape: Shape, planned: list[Plan]) -> ModelDesign:
    """The design of a study, built from its design alone so that model and priors agree."""
    steps1, steps2 = every_step()
    return ModelDesign(
        foundings=names(len(planned)),
        genera=shape.genera,
        genus_code=np.array([p.genus_code for p in planned], np.int64),
        size=np.array([p.size for p in planned], np.int64),
        seen=np.zeros(len(planned), np.int64),
        steps1=steps1,
        steps2=steps2,
        pooled_fight=shape.pooled_fight,
        warm=np.zeros(len(planned)),
        logged=np.zeros(len(planned), np.bool_),
    )


def lived(plan: Plan, truth: GenusTruth, horizon: int, rng: np.random.Generator) -> Paths:
    """One founding lived through; one that enters late was then as the design says.

    Late entry is by design: a single alive, or all queens of a group but one, no worker yet. The
    state at entry must not depend on the truth, for the model does not learn from it.

    Raises
    ------
    StudyError
        The truth is so extreme that no founding of very many was in that state.
    """
    batch = 1 if plan.entry == 0 else 64
    wanted = plan.size if plan.size == 1 else plan.size - 1
    for _ in range(MOST_TRIES):
        paths = run(
            batch,
            plan.size,
            truth,
            rng,
            float(horizon),
            taken_at=np.full(batch, plan.out_at),
            taken=np.full(batch, int(np.isfinite(plan.out_at))),
        )
        if plan.entry == 0:
            return paths
        fits = (paths.alive(float(plan.entry)) == wanted) & (paths.first_worker > plan.entry)
        if fits.any():
            return _only(paths, int(np.flatnonzero(fits)[0]))
        batch = min(2 * batch, 1 << 17)
    raise StudyError("no founding can enter late under this truth")


def _only(paths: Paths, i: int) -> Paths:
    pick = slice(i, i + 1)
    return Paths(
        paths.deaths[pick],
        paths.first_worker[pick],
        paths.mated[pick],
        paths.taken_at[pick],
        paths.taken[pick],
        paths.horizon,
    )


def _date(plan: Plan, day: float) -> str:
    return (FIRST_DAY + dt.timedelta(days=plan.start + int(day))).isoformat()


def _written(name: str, plan: Plan, paths: Paths) -> tuple[list[list[object]], list[list[object]]]:
    """Rows of the check sheet and of the events of one founding."""
    checks: list[list[object]] = []
    events: list[list[object]] = []
    for day, blank in zip(plan.days, plan.blank, strict=True):
        dead = int((paths.deaths[0] <= day).sum())
        taken = int(paths.taken[0]) if paths.taken_at[0] < day else 0
        alive = plan.size - dead - taken
        seen = "" if blank else str(int(paths.first_worker[0] <= day))
        checks.append([name, _date(plan, day), alive, seen])
        if paths.taken[0] and paths.taken_at[0] == day:
            events.append([name, _date(plan, day), "queens-out", 1, "given"])
        if alive == 0:
            return checks, events
    if plan.gave_up:
        events.append([name, _date(plan, plan.days[-1]), "end", "", "gave-up"])
    return checks, events


def _sheets(shape: Shape, planned: list[Plan], lives: list[Paths]) -> dict[str, str]:
    foundings, checks, events = [], [], []
    for name, plan, paths in zip(names(len(planned)), planned, lives, strict=True):
        entry = _date(plan, plan.entry) if plan.entry else ""
        foundings.append([name, shape.genera[plan.genus_code], _date(plan, 0), plan.size, entry])
        more = _written(name, plan, paths)
        checks += more[0]
        events += more[1]
    columns = {
        "foundings.csv": (["founding", "genus", "started", "queens", "followed_from"], foundings),
        "checks.csv": (["founding", "date", "queens_alive", "workers"], checks),
        "events.csv": (["founding", "date", "event", "number", "other"], events),
    }
    out = {
        name: pd.DataFrame(rows, columns=head).to_csv(index=False)
        for name, (head, rows) in columns.items()
        if rows
    }
    out["study.toml"] = (
        f'title = "A calibration"\nseason = "2025"\nhorizon_days = {shape.horizon}\n'
    )
    return out


@dataclass(frozen=True)
class Season:
    """One drawn study.

    Attributes
    ----------
    drawn : dict of arrays
        The draw of the priors, first axis of length 1, named as `cohort.model.priors.draw` does.
    design : ModelDesign
    study : Study
        Read back from the sheets.
    """

    drawn: Drawn
    design: ModelDesign
    study: Study


def season(seed: int, shape: Shape, priors: Priors) -> Season:
    """The study of a seed.

    Parameters
    ----------
    seed : int
        Of the truth, the design and the fates; each has a stream of its own.
    shape : Shape
    priors : Priors

    Raises
    ------
    StudyError
        See `lived`.
    """
    drawn = draw(
        priors,
        len(shape.genera),
        1,
        np.random.default_rng(seed),
        pooled_fight=shape.pooled_fight,
    )
    planned = plans(shape, np.random.default_rng([seed, 1]))
    rng = np.random.default_rng([seed, 2])
    true = truths(drawn)
    lives = [lived(plan, true[plan.genus_code], shape.horizon, rng) for plan in planned]
    with tempfile.TemporaryDirectory() as folder:
        for name, text in _sheets(shape, planned, lives).items():
            (Path(folder) / name).write_text(text, encoding="utf-8")
        study = read_study(Path(folder), today=dt.date(2026, 6, 1))
    return Season(drawn, design_of(shape, planned), study)
