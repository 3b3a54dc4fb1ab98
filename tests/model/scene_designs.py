"""Designs with everything a design can have, and a vector of the sampler in plain words."""

import math
from dataclasses import replace

import numpy as np
from by_rows import Rates
from scenes import history_of, lived

from cohort.likelihood import genera as genera_room
from cohort.likelihood import packing as at
from cohort.likelihood.exposure import packed
from cohort.likelihood.warm_tables import warm_tables
from cohort.model.design import Grouping, model_design
from cohort.model.parameters import COMMON, EFFECTS
from cohort.warmth import WarmClock, Warmth, thresholds


def plain():
    """Twelve foundings of three genera, matings seen in half of them."""
    rates = Rates(level1=0.006, level2=0.004, tau=0.15, phi=0.9, sigma=0.5)
    days = np.arange(7, 161, 7)
    sets = lived(6, 1, rates, days, 1) + lived(6, 3, rates, days, 2)
    more = {f"F{i}": {"genus": "ABC"[i % 3], "mating_seen": i % 2} for i in range(12)}
    exposure = packed(history_of(sets, more=more))
    return model_design(exposure), exposure


def logged():
    """The same study, half of it with shelf logs."""
    exposure = plain()[1]
    low = np.random.default_rng(8).normal(18.0, 2.0, 170)
    clocks = {f"F{i}": WarmClock(low + i, low + i + 6.0, 24.0) for i in range(0, 12, 2)}
    mine = [clocks.get(name) for name in exposure.foundings["founding"]]
    records, nodes = warm_tables(exposure.records, exposure.nodes, mine)
    warmth = Warmth(clocks, 24.0, {f"F{i}": "no shelf is noted" for i in range(1, 12, 2)})
    exposure = replace(exposure, records=records, nodes=nodes, warmth=warmth)
    return model_design(exposure), exposure


def full():
    """The same study with levels of every kind, covariates and warmth; genera told apart."""
    design, exposure = plain()
    rng = np.random.default_rng(4)
    return replace(
        design,
        pooled_fight=not design.pooled_fight,
        levels={
            "keeper": Grouping(("ann", "bo"), rng.integers(0, 2, 12)),
            "flight": Grouping(("f1", "f2", "f3"), rng.integers(0, 3, 12)),
            "kind_within": Grouping(("", "A x", "A y"), rng.integers(0, 3, 12)),
            "season": Grouping(("2025", "2026"), rng.integers(0, 2, 12)),
        },
        covariates=("mites", "size"),
        x=rng.normal(size=(12, 2)),
        moves=np.array([[True, True], [False, True], [True, False], [False, True]]),
        warm=rng.normal(size=12),
    ), exposure


def part():
    """Some of everything: flights but no keepers, one covariate, warmth where no log is."""
    design, exposure = logged()
    rng = np.random.default_rng(5)
    return replace(
        design,
        seen=np.zeros(12, np.int64),
        levels={"flight": Grouping(("f1", "f2"), rng.integers(0, 2, 12))},
        covariates=("size",),
        x=rng.normal(size=(12, 1)),
        moves=np.array([[True], [True], [False], [False]]),
        warm=np.where(design.logged, 0.0, rng.normal(size=12)),
    ), exposure


def adjusted():
    """The plain study with a covariate and nothing else."""
    design, exposure = plain()
    x = np.random.default_rng(6).normal(size=(12, 1))
    moves = np.array([[True], [False], [False], [True]])
    return replace(design, covariates=("size",), x=x, moves=moves), exposure


def wintered():
    """A study that goes through winter: losses before, in and after it, first workers beside it."""
    rates = Rates(
        level1=0.006, level2=0.004, tau=0.3, log_day=math.log(60.0), phi=0.9, sigma=0.5, winter=0.6
    )
    rests = ((63.0, 180.0),)
    days = np.array([14, 30, 49, 63, 120, 185, 200, 230, 260])
    sets = lived(6, 1, rates, days, 3, winters=rests) + lived(9, 3, rates, days, 4, winters=rests)
    more = {f"F{i}": {"genus": "ABC"[i % 3], "mating_seen": i % 2} for i in range(15)}
    exposure = packed(history_of(sets, more=more, winters=rests))
    return model_design(exposure), exposure


SCENES = {
    "plain": plain,
    "logged": logged,
    "full": full,
    "part": part,
    "adjusted": adjusted,
    "wintered": wintered,
}
PHASE = np.repeat([0, 1], [4, 3])
KINDS = ("keeper", "flight", "kind_within", "season")
PARTS = ("before", "after", "first_worker", "mated")


def some(target, seed):
    """A vector far enough from the middle of the priors; what is not named stays where it is."""
    rng = np.random.default_rng([seed, 1])
    q = target.start(7) + rng.normal(0, 0.4, target.width) * target.middle()[1].clip(0.2, 1)
    for row in COMMON:
        if not row.enters(target.design) and row.name in target.where:
            q[target.where[row.name]] = 0.1
    return q


def level_normals(target, one, standard_normal):
    """Standard normals of the effects of levels, by name."""
    out = {}
    for name in (f"{level}_{part}" for level in KINDS for part in PARTS):
        if name in target.where:
            sd, turn = one(f"{name}_sd"), target.turn(name)
            normal = standard_normal(target.where[name], sd, 1.0)
            out[name] = np.sign(sd) * (normal if turn is None else turn @ normal)
    return out


def by_levels(target, one, moves, raws):
    """What levels take off the coordinates of means, by effect."""
    out = np.zeros(len(EFFECTS))
    for row in moves[moves[:, at.EFFECT] > 0]:
        source = int(row[at.SOURCE])
        name = next(n for n in raws if target.where[n].start <= source < target.where[n].stop)
        effect = abs(one(f"{name}_sd")) * raws[name][source - target.where[name].start]
        mean = {"before": 0, "after": 2, "first_worker": 5}[name.split("_", 1)[1]]
        out[mean] += row[at.AMOUNT] * effect
    return out


def in_plain_words(target, q):
    """The point of the graph at a vector, and the log of what the coordinates stretch there."""
    design, where = target.design, target.where
    information, score = target.information, target.score
    stretch = 0.0

    def standard_normal(place, sd, sign=None):
        nonlocal stretch
        shape = (len(sd), -1) if np.ndim(sd) == 2 else (-1,)
        v, told_, pull_ = (a[place].reshape(shape) for a in (q, information, score))
        grown = 1 + sd**2 * told_
        stretch -= float(0.5 * np.log(grown * np.ones_like(v)).sum())
        return (np.sign(sd) if sign is None else sign) * (v / np.sqrt(grown) + sd * pull_ / grown)

    def one(name):
        return float(q[where[name]][0])

    spread = np.array([one(f"{name}_sd") for name in EFFECTS])
    active = spread.copy()
    if design.pooled_fight:
        active[EFFECTS.index("last_fight")] = 0.0
    signs = np.where(spread < 0, -1.0, 1.0)
    every = slice(where[EFFECTS[0]].start, where[EFFECTS[-1]].stop)
    w = standard_normal(every, active[:, None], signs[:, None])
    columns, share = genera_room.pooling_of(target.packed)
    raw = np.einsum("egj,ej->eg", columns, w)  # sums to zero; the mean of the graph's is lost there
    mean = np.array([one(f"{name}_mean") for name in EFFECTS])
    moves = genera_room.moves_of(target.packed)
    lean = moves[:, at.AMOUNT]
    moved = np.array([
        lean[1] * one("together_mean"), lean[0] * one("size_step"), lean[2] * one("rivalry_mean"),
        lean[4] * one("size_step_rivalry"), 0.0, lean[3] * one("multi_days"),
    ])  # fmt: skip
    raws = level_normals(target, one, standard_normal)
    moved += by_levels(target, one, moves, raws)
    mean -= (share * np.abs(active)[:, None] * raw).sum(axis=1)
    mean -= moved
    sigma, sds = one("frailty_sd"), q[where["walk_sd"]]
    p = 1 / (1 + math.exp(-one("mated")))
    stretch += one("within_days") + math.log(p * (1 - p))
    point = {
        "size_step": one("size_step"),
        "size_step_rivalry": one("size_step_rivalry"),
        "multi_days": one("multi_days"),
        "genus_sd_log__": np.log(np.abs(spread)),
        "genus_mean": mean,
        "genus_raw": raw,
        "walk_sd_log__": np.log(np.abs(sds)),
        "walk": standard_normal(where["walk"], sds[PHASE]),
        "within_days_log__": one("within_days"),
        "frailty_sd_log__": np.log(abs(sigma)),
        "frailty": standard_normal(where["frailty"], sigma),
        "mated_logodds__": one("mated"),
        "seen": one("seen"),
        "loading": one("loading"),
        "warm_days": one("warm_days"),
        "warm_threshold_interval__": one("warm_threshold"),
    }
    if design.logged.any():
        low, high = thresholds(design.reference)
        part = 1 / (1 + math.exp(-one("warm_threshold")))
        stretch += math.log((high - low) * part * (1 - part))
    for part in PARTS:
        point[f"slope_{part}"] = q[where[f"slope_{part}"]]
    for name, raw in raws.items():
        point[f"{name}_sd_log__"] = np.log(abs(one(f"{name}_sd")))
        point[f"{name}_raw"] = raw
    point |= {name: one(name) for name in ("winter", "winter_company") if name in where}
    return {name: np.asarray(value) for name, value in point.items()}, stretch
