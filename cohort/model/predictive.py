"""What the model expected against what happened: replicated studies held against the sheets.

Comes in: a `Fit` and its `History`. Goes out: `Checks`: a table with a tail area per statistic,
and survival curves pushed through the same looks. Never: a verdict that a model is right; a
statistic inside its range only means that this check found nothing amiss.

Each founding keeps its own calendar of looks, its removals and its entry. One that lost all its
queens would have been looked at longer had it lived; its calendar goes on at its own rhythm to
the day up to which it could have been followed. Its frailty is drawn afresh (see `replicate`).
A founding that runs on degree-days does so in the replicates, by the log of its own shelf.
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import numpy.typing as npt
import pandas as pd

from cohort.history import History
from cohort.model.kernel_arrays import by_founding, stacked
from cohort.model.sample import Fit
from cohort.transitions.replicate import Calendar, replicate

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]
DRAWS: Final = 400
AT_ONCE: Final = 4_000_000
"""Looks replicated in one go; keeps a study of 10,000 foundings within memory."""
WINDOWS: Final = (0.0, 30.0, 60.0, np.inf)
"""Days since the look that first showed workers, at which windows of losses begin and end."""
FOLLOWED: Final = ("followed", "horizon", "winter")
CURVES: Final = ("replicated_queen_survival", "replicated_first_worker")
ARMS: Final = ("single", "multi")


@dataclass(frozen=True)
class Checks:
    """Checks of a fit.

    Attributes
    ----------
    table : DataFrame
        ``check`` (``losses_before_workers``, ``losses_after_workers``, the same by window
        ``_0_30``, ``_30_60``, ``_60_on`` days, ``all_lost``, ``without_workers``,
        ``largest_loss``), ``group`` (single, multi), ``observed``, ``mean``, ``low``, ``high``
        (queens or foundings), ``tail_area``: twice the smaller of the shares of replicates at
        least and at most as large as observed, at most 1.
    curves : DataFrame
        Rows of ``curves.csv``, curves `CURVES`: the product-limit curve and the incidence of the
        first worker of the replicates, dated at the look that showed them as in
        ``queen_survival`` and ``first_worker``, over which they are to lie.
    """

    table: pd.DataFrame
    curves: pd.DataFrame


@dataclass(frozen=True)
class _Seen:
    """Counts at every look, of one study or of many (first axis)."""

    at_risk: npt.NDArray[Any]
    alive: npt.NDArray[Any]
    first: npt.NDArray[Any]


def could_follow(chosen: pd.DataFrame, horizon: int) -> Floats:
    """Last day up to which each founding could have been followed."""
    started = chosen["started"].to_numpy("datetime64[D]").astype(float)
    zero = started - chosen["closed"].to_numpy(float)
    last = zero + chosen["end"].to_numpy(float)
    open_ = chosen["end_kind"].isin(FOLLOWED).to_numpy()
    season = (last[open_] if open_.any() else last).max()
    until: Floats = np.minimum(season - zero, float(horizon))
    return until


def _extended(days: Floats, gap: float, until: float) -> Floats:
    """Looks at the founding's own rhythm, and one on the last day."""
    more = np.arange(days[-1] + gap, until + 1e-9, gap)
    last = [until] if until - np.append(days, more)[-1] >= 1.0 else []
    return np.concatenate([days, more, last])


def calendar(history: History) -> tuple[Calendar, _Seen]:
    """Looks of every compared founding, in the order the model has them, and what they showed."""
    chosen = history.foundings[history.foundings["compared"]]
    frame = history.intervals[history.intervals["code"].isin(chosen.index)]
    until = could_follow(chosen, history.horizon)
    gaps = (frame["by"] - frame["after"]).groupby(frame["code"]).median()
    usual = float(gaps.median()) if len(gaps) else 7.0
    parts = {code: part for code, part in frame.groupby("code")}
    days, taken, risk, alive = [], [], [], []
    lost = chosen["end_kind"].to_numpy() == "all lost"
    for i, (code, queens) in enumerate(
        zip(chosen.index, chosen["entry_queens"].to_numpy(int), strict=True)
    ):
        part = parts.get(code)
        if part is None:
            days.append(np.zeros(0))
            counts: tuple[Ints, Ints] = (np.zeros(0, int), np.zeros(0, int))
        else:
            counts = (part["at_risk"].to_numpy(int), part["alive"].to_numpy(int))
            own = part["by"].to_numpy(float)
            gap = max(float(gaps[code]) if len(own) >= 3 else usual, 1.0)
            days.append(_extended(own, gap, until[i]) if lost[i] else own)
        more = np.zeros(len(days[-1]) - len(counts[0]), int)
        before = np.concatenate([[queens], counts[1][:-1]])[: len(counts[0])]
        taken.append(np.concatenate([before - counts[0], more]))
        risk.append(np.concatenate([counts[0], more]))
        alive.append(np.concatenate([counts[1], more]))
    ends = np.cumsum([len(d) for d in days])
    seen = np.isfinite(chosen["first_by"].to_numpy(float))
    looked = chosen["looked_to"].to_numpy(float)
    end = chosen["end"].to_numpy(float)
    plan = Calendar(
        start=(ends - [len(d) for d in days]).astype(np.int64),
        stop=ends.astype(np.int64),
        day=np.concatenate(days),
        taken=np.concatenate(taken).astype(np.int64),
        size=chosen["size"].to_numpy(np.int64),
        entry=chosen["entry"].to_numpy(float),
        entry_queens=chosen["entry_queens"].to_numpy(np.int64),
        entry_workers=chosen["entry_workers"].to_numpy(bool),
        sought=np.where(seen | (lost & (looked >= end)), np.inf, looked),
        **_logs(history, chosen),
    )
    observed = _Seen(
        np.concatenate(risk)[None, :],
        np.concatenate(alive)[None, :],
        chosen["first_by"].to_numpy(float)[None, :],
    )
    return plan, observed


def _logs(history: History, chosen: pd.DataFrame) -> dict[str, Any]:
    """Shelf logs of the foundings that run on degree-days; nothing when none does."""
    warmth = history.warmth
    if warmth is None or not warmth.clocks:
        return {}
    clocks = [warmth.clocks.get(str(name)) for name in chosen["founding"]]
    none = np.zeros(0)
    days = [0 if clock is None else len(clock.low) for clock in clocks]
    return {
        "low": np.concatenate([none, *(c.low for c in clocks if c is not None)]),
        "high": np.concatenate([none, *(c.high for c in clocks if c is not None)]),
        "log_start": np.concatenate([[0], np.cumsum(days)]).astype(np.int64),
        "reference": float(warmth.reference),
    }


def _owner(plan: Calendar) -> Ints:
    return np.repeat(np.arange(len(plan.size)), plan.stop - plan.start)


def _largest(lost: npt.NDArray[Any], mask: npt.NDArray[np.bool_]) -> Floats:
    return lost[:, mask].max(axis=1) if mask.any() else np.zeros(len(lost))


def statistics(plan: Calendar, seen: _Seen) -> dict[tuple[str, str], Floats]:
    """Each check by name and way of founding, one value per study.

    Losses in the interval of the look that first showed workers count as before workers, as in
    the raw table.
    """
    owner = _owner(plan)
    lost = seen.at_risk - seen.alive
    since = plan.day - seen.first[:, owner]
    gone = np.zeros((len(lost), len(plan.size)))
    some = plan.stop > plan.start
    dead = (seen.at_risk > 0) & (seen.alive == 0)
    gone[:, some] = np.add.reduceat(dead, plan.start[some], axis=1)
    none = ~np.isfinite(seen.first)
    out: dict[tuple[str, str], Floats] = {}
    for arm in ARMS:
        mine = plan.size == 1 if arm == "single" else plan.size >= 2
        looks = mine[owner]
        shown, when = lost[:, looks], since[:, looks]
        out["losses_before_workers", arm] = (shown * (when <= 0)).sum(axis=1)
        out["losses_after_workers", arm] = (shown * (when > 0)).sum(axis=1)
        for low, high in itertools.pairwise(WINDOWS):
            name = f"losses_after_workers_{low:.0f}_{'on' if np.isinf(high) else f'{high:.0f}'}"
            out[name, arm] = (shown * ((when > low) & (when <= high))).sum(axis=1)
        out["all_lost", arm] = gone[:, mine].sum(axis=1)
        out["without_workers", arm] = none[:, mine].sum(axis=1).astype(float)
        if arm == "multi":
            out["largest_loss", arm] = _largest(lost, looks)
    return out


def _groups(chosen: pd.DataFrame) -> list[tuple[str, str, npt.NDArray[np.bool_]]]:
    """Genus ('all' too), way of founding and the foundings of each curve."""
    genus, arm = chosen["genus"].to_numpy(str), chosen["arm"].to_numpy(str)
    names = ["all", *sorted(set(genus))]
    every = [(g, a, ((genus == g) | (g == "all")) & (arm == a)) for g in names for a in ARMS]
    return [group for group in every if group[2].any()]


def survival(plan: Calendar, seen: _Seen, mine: npt.NDArray[np.bool_], last: int) -> Floats:
    """Product-limit share of queens alive on days 0..last, one row per study.

    Losses are dated at the look that showed them (the day on or after it).
    """
    owner = _owner(plan)
    looks = mine[owner]
    before = np.concatenate([[0.0], plan.day[:-1]])
    before[plan.start[plan.stop > plan.start]] = plan.entry[plan.stop > plan.start]
    into, out = (np.ceil(x[looks]).astype(int) for x in (before, plan.day))
    risk = seen.at_risk[:, looks].astype(float)
    lost = risk - seen.alive[:, looks]
    studies, width = len(risk), last + 3
    row = np.arange(studies)[:, None] * width

    def placed(day: Ints, weight: Floats) -> Floats:
        flat = (row + np.minimum(day, width - 1)).ravel()
        summed: Floats = np.bincount(flat, weight.ravel(), studies * width).astype(np.float64)
        return summed.reshape(studies, width)

    same = into == out  # give-or-take may leave an interval within one day
    present = np.cumsum(placed(into + 1 - same, risk) - placed(out + 1, risk), axis=1)
    deaths = placed(out, lost)
    kept = np.cumprod(1 - _ratio(deaths, present), axis=1).astype(np.float64)
    return kept[:, : last + 1]


def _ratio(events: Floats, present: Floats) -> Floats:
    """Share of those present; 0 where nobody is."""
    none = np.zeros_like(events)
    shares: Floats = np.divide(events, present, out=none, where=present > 0.5)
    return shares


def first_worker(plan: Calendar, seen: _Seen, mine: npt.NDArray[np.bool_], last: int) -> Floats:
    """Incidence of the first worker against the loss of all before it, days 0..last, by study.

    Both are dated at the look that showed them (the day on or after it), as in the table of curves.
    A founding with neither counts as far as somebody looked for workers.
    """
    owner = _owner(plan)
    some = plan.stop > plan.start
    gone = np.full((len(seen.first), len(plan.size)), np.inf)
    dead = np.where((seen.at_risk > 0) & (seen.alive == 0), plan.day, np.inf)
    gone[:, some] = np.minimum.reduceat(dead, plan.start[some], axis=1)
    ends = np.zeros(len(plan.size))
    np.maximum.at(ends, owner, plan.day)
    worker = np.isfinite(seen.first) & (seen.first <= gone)
    lost = ~worker & np.isfinite(gone) & (gone <= plan.sought)
    leave = np.where(worker, seen.first, np.where(lost, gone, np.minimum(plan.sought, ends)))
    use = mine & ~plan.entry_workers & (leave > plan.entry)
    out = np.ceil(np.where(use, leave, 0.0)).astype(int)
    into = np.broadcast_to(np.ceil(plan.entry).astype(int), out.shape)
    width = last + 3
    row = np.arange(len(out))[:, None] * width

    def placed(day: Ints, weight: npt.NDArray[Any]) -> Floats:
        flat = (row + np.minimum(day, width - 1)).ravel()
        counted = (weight & use).ravel().astype(float)
        summed: Floats = np.bincount(flat, counted, len(out) * width).astype(np.float64)
        return summed.reshape(len(out), width)

    present = np.cumsum(placed(into + 1, use) - placed(out + 1, use), axis=1)
    workers, either = placed(out, worker), placed(out, worker | lost)
    free = np.cumprod(1 - _ratio(either, present), axis=1)
    before = np.concatenate([np.ones((len(out), 1)), free[:, :-1]], axis=1)
    shares: Floats = np.cumsum(before * _ratio(workers, present), axis=1)
    return shares[:, : last + 1]


def _rows(values: dict[tuple[str, str], Floats], observed: dict[tuple[str, str], Floats],
          level: float) -> pd.DataFrame:  # fmt: skip
    tail = (1 - level) / 2
    rows = []
    for (name, group), drawn in values.items():
        seen = float(observed[name, group][0])
        low, high = np.quantile(drawn, [tail, 1 - tail])
        area = 2 * min((drawn >= seen).mean(), (drawn <= seen).mean())
        rows.append(
            {
                "check": name,
                "group": group,
                "observed": seen,
                "mean": float(drawn.mean()),
                "low": float(low),
                "high": float(high),
                "tail_area": min(1.0, float(area)),
            }
        )
    return pd.DataFrame(rows)


def _curve(name: str, genus: str, arm: str, drawn: Floats, level: float) -> pd.DataFrame:
    tail = (1 - level) / 2
    low, high = np.quantile(drawn, [tail, 1 - tail], axis=0)
    day = np.arange(drawn.shape[1], dtype=float)
    names = {"curve": name, "genus": genus, "arm": arm, "day": day}
    return pd.DataFrame(names | {"estimate": drawn.mean(axis=0), "low": low, "high": high})


def checks(
    fit: Fit, history: History, *, seed: int, level: float = 0.9, draws: int = DRAWS
) -> Checks:
    """Hold a fit against the study it was fitted to.

    Parameters
    ----------
    fit : Fit
    history : History
        The same study.
    seed : int
        Of the replicates.
    level : float
        Mass between ``low`` and ``high``.
    draws : int
        Replicated studies: one per posterior draw, evenly thinned over chains.
    """
    chains, length = fit.posterior.sizes["chain"], fit.posterior.sizes["draw"]
    keep = np.linspace(0, length - 1, min(length, max(1, draws // chains))).round().astype(int)
    pars, shareds = by_founding(stacked(fit.posterior.isel(draw=keep)), fit.lineup)
    plan, observed = calendar(history)
    chosen = history.foundings[history.foundings["compared"]]
    groups = _groups(chosen)
    last = int(min(history.horizon, np.ceil(plan.day.max(initial=1.0))))
    rng = np.random.default_rng(seed)
    values: list[dict[tuple[str, str], Floats]] = []
    curves: list[list[tuple[Floats, Floats]]] = []
    size = max(1, AT_ONCE // max(1, len(plan.day)))
    for at in range(0, len(pars), size):
        some = slice(at, at + size)
        made = _Seen(*replicate(pars[some], shareds[some], plan, rng))
        values.append(statistics(plan, made))
        curves.append(
            [
                (survival(plan, made, mine, last), first_worker(plan, made, mine, last))
                for _, _, mine in groups
            ]
        )
    drawn = {key: np.concatenate([part[key] for part in values]) for key in values[0]}
    lines = [
        _curve(name, genus, arm, np.concatenate([part[i][j] for part in curves]), level)
        for j, name in enumerate(CURVES)
        for i, (genus, arm, _) in enumerate(groups)
    ]
    return Checks(
        _rows(drawn, statistics(plan, observed), level), pd.concat(lines, ignore_index=True)
    )
