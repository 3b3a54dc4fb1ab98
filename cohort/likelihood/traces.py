"""What a founding's likelihood is made of, before it is packed: intervals, bracket, winter rest.

Comes in: intervals between looks. Goes out: a `Trace`, the same in warm days (`thawed`), and an
interval in the stages that hazards tell apart (`stages`). Never: a rate.

Warm days run by a clock that stands still in winter rest.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

from cohort.history.winters import Cold, WinterRest
from cohort.likelihood import layout as at

Span = tuple[float, float, int, int]
"""An interval between looks: after, by (days since day 0), queens before, queens at its end."""
Lived = tuple[float, float, int, int, Sequence[Cold]]
"""A `Span` with the stretches of winter rest inside it."""


@dataclass(frozen=True)
class Trace:
    """What one founding's likelihood is made of.

    Attributes
    ----------
    spans : sequence of Span
        Intervals between counted looks, in order, from day 0 on; at least one. A founding
        whose queens were never counted has (0, 0, k, k).
    after, by : float
        Bracket of the first worker; ``by`` is inf if none was seen. It may reach beyond the
        last count.
    looked_to : float
        Last look that looked for workers and saw none; it may lie beyond the last count.
    colds : sequence
        Stretches of winter rest inside each span, where there was any: all days are warm days then.
    tail : sequence of Cold
        Those after the last count.
    """

    spans: Sequence[Span]
    after: float
    by: float
    looked_to: float
    colds: Sequence[Sequence[Cold]] = ()
    tail: Sequence[Cold] = ()


def overlap(a: float, b: float, cuts: Sequence[float]) -> list[float]:
    """Days of (a, b] that fall into each piece; the last piece has no end."""
    out = []
    for j, low in enumerate(cuts):
        high = cuts[j + 1] if j + 1 < len(cuts) else math.inf
        out.append(max(0.0, min(b, high) - max(a, low)))
    return out


def merged(spans: Iterable[Span]) -> list[Span]:
    """Neighbouring intervals without a loss and with the same count, joined into one."""
    out: list[Span] = []
    for a, b, n, m in spans:
        if out and n == m and out[-1][2] == out[-1][3] == n and out[-1][1] == a:
            out[-1] = (out[-1][0], b, n, n)
        else:
            out.append((a, b, n, m))
    return out


def lived_through(trace: Trace) -> list[Lived]:
    """Intervals of a trace as `merged` joins them, with the winter rest inside each."""
    if not any(trace.colds):
        return [(*span, ()) for span in merged(trace.spans)]
    out: list[Lived] = []
    for (a, b, n, m), cold in zip(trace.spans, trace.colds, strict=True):
        if out and n == m and out[-1][2] == out[-1][3] == n and out[-1][1] == a:
            out[-1] = (out[-1][0], b, n, n, (*out[-1][4], *cold))
        else:
            out.append((a, b, n, m, tuple(cold)))
    return out


def stages(
    a: float, b: float, e: float, cold: Sequence[Cold]
) -> tuple[list[tuple[int, list[float]]], int]:
    """Stages of the interval (a, b] in order, and how many of them lie before the first worker.

    Parameters
    ----------
    a, b : float
        Warm days.
    e : float
        Warm day of the first worker; inf if none came. No winter rest may fall on it.
    cold : sequence of Cold

    Returns
    -------
    list of (phase, exposure)
        Phase 0 before and 1 with workers, `layout.COLD` more in winter rest, and its days by piece.
    """
    out: list[tuple[int, list[float]]] = []
    for since, day, rest in zip(
        [a, *(u for u, _ in cold)], [*(u for u, _ in cold), b], [*(d for _, d in cold), 0.0],
        strict=True,
    ):  # fmt: skip
        if day > since:
            if e > since:
                out.append((0, overlap(since, min(day, e), at.CUTS1)))
            if e < day:
                out.append((1, overlap(max(since, e) - e, day - e, at.CUTS2)))
        if rest > 0:
            out.append((at.COLD + int(day > e), [rest]))
    return out, sum(phase % at.COLD == 0 for phase, _ in out)


def thawed(trace: Trace, rest: WinterRest | None) -> Trace:
    """A trace in warm days, its winter rest apart."""
    if rest is None:
        return trace
    warm = rest.warm
    last = trace.by if math.isfinite(trace.by) else trace.looked_to
    return Trace(
        [(warm(a), warm(b), n, m) for a, b, n, m in trace.spans],
        warm(trace.after),
        warm(trace.by),
        warm(trace.looked_to),
        [rest.between(a, b) for a, b, _, _ in trace.spans],
        rest.between(trace.spans[-1][1], last),
    )


def loss_days(
    chosen: pd.DataFrame, frame: pd.DataFrame, winters: Mapping[str, WinterRest]
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Warm days of losses by phase, and which foundings saw a last fight."""
    lost = frame[frame["lost"] > 0]
    after = chosen["first_after"].reindex(lost["code"]).to_numpy(copy=True)
    by = chosen["first_by"].reindex(lost["code"]).to_numpy(copy=True)
    since, until = (lost[c].to_numpy(copy=True) for c in ("after", "by"))
    for i, name in enumerate(chosen["founding"].reindex(lost["code"]).astype(str)):
        if name in winters:
            for days in (after, by, since, until):
                days[i] = winters[name].warm(float(days[i]))
    seen = np.isfinite(by) & (until > after)
    day = 0.5 * (since + until)
    count = lost["lost"].to_numpy()
    first = np.where(np.isfinite(by), 0.5 * (after + np.where(np.isfinite(by), by, 0.0)), 0.0)
    fight = seen & (lost["at_risk"].to_numpy() >= 2) & (lost["alive"].to_numpy() <= 1)
    return (
        np.repeat(day[~seen], count[~seen]),
        np.repeat((day - first)[seen], count[seen]),
        chosen.index.isin(lost["code"].to_numpy()[fight]),
    )
