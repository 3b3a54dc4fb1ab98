"""The first worker by methods that assume less, or other things, than the model.

What comes in: a `History`. What goes out: `Row`s: a log-normal fit to the brackets, and the share
of foundings with workers where the loss of all queens competes. lifelines is loaded when asked.
"""

from __future__ import annotations

import contextlib
from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import pandas as pd
from scipy.special import ndtr, ndtri

from cohort.history import History
from cohort.nonparametric.frames import SHIFT, survival
from cohort.nonparametric.runs import (
    Drawn,
    Group,
    bands,
    first_moves,
    first_worker_or_lost,
    resampled,
)
from cohort.second_opinion.rows import LEAST, Row, UndoneError, fitted

LATE = 1.5
"""Times the median day of the first worker beyond which a founding without is taken as barren."""
PARTED = 0.01
"""Days by which lifelines parts events of one day at most, and some more."""
WIDE = 5.0
"""Standard error of a log ratio from which a fit says nothing: its likelihood is flat there."""


@dataclass(frozen=True)
class TimeRatio:
    """Log ratio of days to the first worker, several queens against one, by brackets.

    Parameters
    ----------
    log_ratio, se : float
    spread : float
        SD of the log day within genus and way.
    loglik : float
    foundings : int
        Used by the fit: those of kinds in which a first worker was seen.
    """

    log_ratio: float
    se: float
    spread: float
    loglik: float
    foundings: int


def time_ratio(frame: pd.DataFrame) -> TimeRatio:
    """Fit a log-normal day of the first worker to brackets, a level for each genus.

    Parameters
    ----------
    frame : DataFrame
        ``genus``, ``arm``, ``lower``, ``upper``, ``entry``, ``seen``, see
        `cohort.nonparametric.frames`.

    Returns
    -------
    TimeRatio

    Raises
    ------
    UndoneError
        Fewer than four foundings of a way got workers, or the fit did not settle.

    Notes
    -----
    Kalbfleisch and Prentice (2002), doi:10.1002/9781118032985, chapter 3, as lifelines fits it.
    """
    from lifelines import LogNormalAFTFitter

    frame = frame[frame.groupby("genus")["seen"].transform("any").astype(bool)]
    if _fewest(frame[frame["seen"]]) < LEAST:
        raise UndoneError("few")
    table = pd.get_dummies(frame["genus"].to_numpy(), prefix="genus", drop_first=True, dtype=float)
    table["multi"] = (frame["arm"] == "multi").to_numpy(dtype=float)
    days = frame[["lower", "upper", "entry"]].to_numpy(dtype=float)
    days[:, 0] += SHIFT  # it takes the log of day 0
    # in units near 1: in days lifelines does not always converge where a founding enters late
    days /= np.median(days[frame["seen"].to_numpy(dtype=bool), :2])
    table["lower"], table["upper"] = days[:, 0], days[:, 1]
    more: dict[str, str] = {}
    if (frame["entry"] > 0).any():
        table["entry"] = days[:, 2]
        more = {"entry_col": "entry"}
    fit: Any = fitted(
        lambda: LogNormalAFTFitter().fit_interval_censoring(table, "lower", "upper", **more)
    )
    ratio, se = (float(of["mu_", "multi"]) for of in (fit.params_, fit.standard_errors_))
    if not (np.isfinite(ratio) and 0 < se < WIDE):
        raise UndoneError("no_fit")
    spread = float(np.exp(fit.params_["sigma_", "Intercept"]))
    return TimeRatio(ratio, se, spread, float(fit.log_likelihood_), len(frame))


def warmed(frame: pd.DataFrame, past: History) -> pd.DataFrame:
    """Brackets of first workers by the clock that stands still in winter rest, as in the model.

    Parameters
    ----------
    frame : DataFrame
        ``founding``, ``lower``, ``upper``, ``entry``, see `cohort.nonparametric.frames`.
    past : History

    Returns
    -------
    DataFrame
        The same frame where no founding was followed into winter rest. A bracket that winter rest
        fills whole is that of the last warm day.
    """
    rests = [past.winters.get(str(name)) for name in frame["founding"]]
    if not any(rests):
        return frame
    out = frame.copy()
    for name in ("lower", "upper", "entry"):
        days = frame[name].to_numpy(dtype=float)
        out[name] = [
            day if rest is None else rest.warm(day) for day, rest in zip(days, rests, strict=True)
        ]
    empty = np.isfinite(out["upper"]) & (out["upper"] <= out["lower"])
    out.loc[empty, "lower"] = (out["upper"] - 1.0).clip(lower=0.0)[empty]
    return out[out["upper"] > out["entry"]].reset_index(drop=True)


def _fewest(frame: pd.DataFrame) -> int:
    return int(min((frame["arm"] == arm).sum() for arm in ("single", "multi")))


def aft_row(row: Row, past: History, level: float, prior: tuple[float, float]) -> Row:
    """The time ratio by brackets; days of winter rest are not counted, see `warmed`.

    Parameters
    ----------
    row : Row
    past : History
    level : float
    prior : tuple of float
        Mean and SD of the model's prior of the log ratio: what it would make of this number.
    """
    frame = warmed(survival(past, "first_worker"), past)
    found = time_ratio(frame)
    z = float(ndtri((1 + level) / 2))
    mean, sd = prior
    weight = (1 / found.se**2, 1 / sd**2)
    pulled = (weight[0] * found.log_ratio + weight[1] * mean) / sum(weight)
    variants = {"prior": float(np.exp(pulled))}
    middle = ((frame["lower"] + frame["upper"]) / 2)[frame["seen"]].median()
    barren = ~frame["seen"] & (frame["lower"] >= LATE * middle)
    if barren.any():
        with contextlib.suppress(UndoneError):
            variants["barren"] = float(np.exp(time_ratio(frame[~barren]).log_ratio))
    return replace(
        row,
        estimate=float(np.exp(found.log_ratio)),
        low=float(np.exp(found.log_ratio - z * found.se)),
        high=float(np.exp(found.log_ratio + z * found.se)),
        p=float(2 * ndtr(-abs(found.log_ratio / found.se))),
        foundings=found.foundings,
        variants=variants,
    )


def group_of(past: History, arm: str, seed: int, resamples: int = 1000) -> Group:
    """Compared foundings of one way with their resamples, those of the curves that are printed.

    Raises
    ------
    UndoneError
        There are fewer than four.
    """
    found = past.foundings
    own = found[found["compared"].astype(bool) & (found["arm"] == arm)]
    if len(own) < LEAST:
        raise UndoneError("few")
    weights = resampled(len(own), resamples, seed, "all", arm)
    own = own.reset_index(drop=True)
    return Group(own, own.iloc[:0], weights)  # curves of foundings need no intervals


def incidence_row(row: Row, past: History, seed: int, level: float) -> Row:
    """Share of foundings with workers by the day of the row; ties are taken as they are."""
    group = group_of(past, row.arm, seed)
    values = _at(group, row.day)
    low, high = bands(values[1:], level, len(group.foundings))
    found = group.foundings
    kinds = [found["genus"] == genus for genus in sorted(found["genus"].unique())]
    whole = np.ones(len(found), dtype=bool)
    variants = {
        "looks": _share(_between_looks(found), whole, row.day),
        "equal": float(np.mean([_share(found, of.to_numpy(dtype=bool), row.day) for of in kinds])),
    }
    of_size = (found["size"] == row.queens).to_numpy(dtype=bool)
    if row.arm == "multi" and of_size.any():
        variants["size"] = _share(found, of_size, row.day)
    return replace(
        row,
        estimate=float(values[0, 0]),
        low=float(low[0]),
        high=float(high[0]),
        foundings=len(found),
        variants=variants,
    )


def _drawn(group: Group) -> Drawn:
    return first_worker_or_lost(group)[0]


def _at(group: Group, day: int | None) -> np.ndarray:
    return _drawn(group).at(np.array([float(day or 0)]))


def _share(found: pd.DataFrame, of: np.ndarray, day: int | None) -> float:
    """The same of some foundings, without resamples."""
    some = found[of].reset_index(drop=True)
    return float(_at(Group(some, some.iloc[:0], np.ones((1, len(some)))), day)[0, 0])


def _between_looks(found: pd.DataFrame) -> pd.DataFrame:
    """First workers, and losses of all queens, dated at the middle of their brackets."""
    out = found.copy()
    for after, by in (("first_after", "first_by"), ("lost_after", "lost_by")):
        middle = (found[after].astype(float) + found[by].astype(float)) / 2
        out[by] = middle.where(np.isfinite(found[by].astype(float)), found[by])
    return out


def jittered_row(row: Row, past: History, seed: int, level: float) -> Row:
    """The same as `incidence_row` by lifelines, which parts events of one day at random."""
    from lifelines import AalenJohansenFitter

    group = group_of(past, row.arm, seed, resamples=0)
    entry, leave, cause, use = first_moves(group.foundings)
    entry, leave, cause = entry[use], leave[use], cause[use]
    if not (cause == 1).any():
        raise UndoneError("no_event")
    late = {"entry": entry} if (entry > 0).any() else {}
    fitter = AalenJohansenFitter(seed=seed, alpha=1 - level)
    with _own_chance():
        fit: Any = fitted(lambda: fitter.fit(leave, cause, event_of_interest=1, **late))
    share = fit.cumulative_density_.iloc[:, 0]
    there = share.index <= float(row.day or 0) + PARTED
    low, high = fit.confidence_interval_[there].iloc[-1].to_numpy(dtype=float)
    estimate = float(share[there].iloc[-1])
    return replace(
        row, estimate=estimate, low=float(low), high=float(high), foundings=len(group.foundings)
    )


@contextlib.contextmanager
def _own_chance() -> Iterator[None]:
    """Leave numpy's common stream of random numbers as it was: lifelines sets its seed."""
    before = np.random.get_state()  # noqa: NPY002 - there is no other way to keep it
    try:
        yield
    finally:
        np.random.set_state(before)  # noqa: NPY002 - as above
