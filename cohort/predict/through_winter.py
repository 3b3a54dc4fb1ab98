"""What becomes of new foundings that go through one winter rest: as `recursion`, in two clocks.

Comes in: what `recursion` takes, and the cells in which winter rest begins and how many it lasts.
Goes out: the same outcomes, by days of the calendar. Never: a second formula for a transition.

Hazards before and after the rest go by warm days, those in it are its own, and rho differs; so a
path through it is a product of three tables: to the first cold day, through the rest, and from
there on. Up to the first cold day, and for workers that come after the rest, all is as without
one. Where one queen or several are left after so many days with workers, days of rest do not count.
"""

from __future__ import annotations

import math
from typing import Final

import numpy as np
import numpy.typing as npt
from numba import njit

from cohort.likelihood import BORROWS
from cohort.likelihood.closed import company, fades
from cohort.likelihood.layout import (
    LOADING,
    N1,
    N2,
    P_MATED,
    S_MATED,
    SIGMA,
    STEPS1,
    STEPS2,
    WINTER,
    WINTER_COMPANY,
    WITHIN_DAYS,
)
from cohort.likelihood.predictor import mated_chance, new_founding
from cohort.likelihood.threads import in_parallel
from cohort.likelihood.transition_probabilities import power
from cohort.predict.afterwards import PAD, by_then, mated_first, scale, shared_nest
from cohort.predict.recursion import (
    KEPT,
    STEP,
    after_workers,
    arrivals,
    below,
    cumulative,
    queens_of,
    recurse,
    until_workers,
    when,
)

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]
STRIDE: Final = 4
"""Cells from one point of the curve of living queens to the next, from the first cold day on;
between them it is straight."""
QUEENS: Final = 0
ANY: Final = 1
ALIKE: Final = 2
MATED_FIRST: Final = 3
WORTHS: Final = 4


@njit(**BORROWS)
def warm_edge(i, begins, rests):  # type: ignore[no-untyped-def]  # compiled by numba
    """Edge by the warm clock of an edge by the calendar."""
    return i - min(max(i - begins, 0), rests)


@njit(**BORROWS)
def first_days(own, within_days, begins, rests, edge, masses):  # type: ignore[no-untyped-def]  # compiled by numba
    """As `recursion.first_days`, by edges of the calendar: none comes in winter rest."""
    for i in range(edge.size):
        edge[i] = below(STEP * warm_edge(i, begins, rests), own.log_day, within_days)
    for i in range(masses.size):
        masses[i] = edge[i + 1] - edge[i]
    return when(masses)


@njit(cache=True, error_model="numpy")
def left_of(n, days, level, ratio, last_fight, out):  # type: ignore[no-untyped-def]  # compiled by numba
    """Chances of 0..n queens left of n at each total of ``days``, into ``out``."""
    lone, accompanied = np.empty(days.size), np.empty(days.size)
    fades(days, level, lone)
    fades(days, level * ratio, accompanied)
    company(n, days, level, ratio, lone, accompanied, last_fight, out)


@njit(cache=True, error_model="numpy")
def followed_by(start, tables, first, k, out):  # type: ignore[no-untyped-def]  # compiled by numba
    """Counts from ``start``, carried on by ``tables`` (n, m, points), into ``out`` from a place."""
    points = min(tables.shape[2], out.shape[1] - first)
    for i in range(points):
        out[0, first + i] = start[0]
        for m in range(1, k + 1):
            out[m, first + i] = 0.0
        for n in range(1, k + 1):
            for m in range(n + 1):
                out[m, first + i] += start[n] * tables[n, m, i]


@njit(cache=True, error_model="numpy")
def before_workers(k, level, ratio, cold, cold_ratio, cum1, begins, rests, out):  # type: ignore[no-untyped-def]  # compiled by numba
    """Chances of 0..k queens at every edge of the calendar while no worker has come."""
    edges = out.shape[1]
    left_of(k, cum1, level, ratio, 0.0, out)
    rest = np.empty(rests + 1)
    for m in range(rests + 1):
        rest[m] = STEP * m
    start = out[:, begins].copy()
    tables = np.zeros((k + 1, k + 1, rests + 1))
    for n in range(1, k + 1):
        left_of(n, rest, cold, cold_ratio, 0.0, tables[n])
    followed_by(start, tables, begins, k, out)
    if begins + rests >= edges:
        return
    start = out[:, begins + rests].copy()
    since = cum1[begins : edges - rests] - cum1[begins]
    later = np.zeros((k + 1, k + 1, since.size))
    for n in range(1, k + 1):
        left_of(n, since, level, ratio, 0.0, later[n])
    followed_by(start, later, begins + rests, k, out)


@njit(cache=True, error_model="numpy")
def worths(k, unmated):  # type: ignore[no-untyped-def]  # compiled by numba
    """What m living queens of k are worth in each of `WORTHS`, (WORTHS, k + 1)."""
    out = np.zeros((WORTHS, k + 1))
    enough, ways, none_mated = 0.0, 1.0, 1.0
    for m in range(1, k + 1):
        none_mated *= unmated
        j = k - m + 1  # mated queens that are just enough, see `afterwards.mated_first`
        enough += ways * power(1.0 - unmated, j) * power(unmated, k - j)
        ways *= j / (k - j + 1.0)
        out[QUEENS, m], out[ANY, m] = m, 1.0
        out[ALIKE, m], out[MATED_FIRST, m] = 1.0 - none_mated, enough
    return out


@njit(cache=True, error_model="numpy")
def since_then(k, cum2, begins, later, level, ratio, last_fight, value):  # type: ignore[no-untyped-def]  # compiled by numba
    """What n queens at the end of a rest are worth ``later`` cells after it, (n, begins + 1).

    By cells from the first worker to the first cold day.
    """
    out, days = np.zeros((k + 1, begins + 1)), np.empty(begins + 1)
    for i in range(begins + 1):
        days[i] = cum2[i + later] - cum2[i]
    for n in range(1, k + 1):
        table = np.zeros((n + 1, begins + 1))
        left_of(n, days, level, ratio, last_fight, table)
        for m in range(1, n + 1):
            for i in range(begins + 1):
                out[n, i] += value[m] * table[m, i]
    return out


@njit(cache=True, error_model="numpy")
def through(k, table2, resting, cum2, begins, later, level, ratio, last_fight, value):  # type: ignore[no-untyped-def]  # compiled by numba
    """What c queens at the first worker are worth ``later`` cells after a rest, (c, begins + 1).

    By cells from the first worker to the first cold day. ``resting`` has the chances of counts over
    the rest so far, (n, m), ``value`` what m queens are then worth.
    """
    span = begins + 1
    then = since_then(k, cum2, begins, later, level, ratio, last_fight, value)
    cold = np.zeros((k + 1, span))
    for n in range(1, k + 1):
        for m in range(1, n + 1):
            for i in range(span):
                cold[n, i] += resting[n, m] * then[m, i]
    out = np.zeros((k + 1, span))
    for c in range(1, k + 1):
        for n in range(1, c + 1):
            for i in range(span):
                out[c, i] += table2[c, n, i] * cold[n, i]
    return out


@njit(**BORROWS)
def came_before(k, arrive, first, last, begins, worth):  # type: ignore[no-untyped-def]  # compiled by numba
    """Sum over the cells of the first worker before a rest of arrivals times their `through`."""
    total = 0.0
    for c in range(1, k + 1):
        for i in range(first, min(last, begins)):
            total += arrive[c, i] * 0.5 * (worth[c, begins - 1 - i] + worth[c, begins - i])
    return total


@njit(cache=True, error_model="numpy")
def worth_at(j, k, arrive, first, last, begins, rests, table2, cold, cum2, own, level, value, late):  # type: ignore[no-untyped-def]  # compiled by numba
    """Expected worth at edge j of the calendar, arrivals up to it; ``late`` is `worth`'s table."""
    if j <= begins:
        return by_then(j, k, arrive, first, last, late)
    done = min(j - begins, rests)
    later = j - begins - done
    worth = through(
        k, table2, cold[:, :, done], cum2, begins, later, level, math.exp(own.ratio_after),
        own.last_fight, value,
    )  # fmt: skip
    total = came_before(k, arrive, first, last, begins, worth)
    after = max(first, begins + rests)
    if min(j, last) > after:
        total += by_then(j, k, arrive, after, last, late)
    return total


@njit(**BORROWS)
def straight(at, curve):  # type: ignore[no-untyped-def]  # compiled by numba
    """Fill ``curve`` between the points ``at`` (ascending) by straight lines."""
    for i in range(at.size - 1):
        low, high = at[i], at[i + 1]
        for j in range(low + 1, high):
            part = (j - low) / (high - low)
            curve[j] = (1.0 - part) * curve[low] + part * curve[high]


@njit(cache=True, error_model="numpy")
def points_of(edges, begins, rests):  # type: ignore[no-untyped-def]  # compiled by numba
    """Edges at which the curve of living queens is reckoned."""
    marks = np.zeros(edges, np.bool_)
    for j in range(0, min(begins + 1, edges), KEPT):
        marks[j] = True
    for j in range(begins, edges, STRIDE):
        marks[j] = True
    for j in (begins, begins + rests, edges - 1):
        if j < edges:
            marks[j] = True
    return np.flatnonzero(marks)


@njit(cache=True, error_model="numpy")
def one_genus_through(  # type: ignore[no-untyped-def]  # compiled by numba
    genus, shared, added, r, share, sizes, cum1, cum2, begins, rests, colony_at, days_at, z, w,
    out, curve, left,
):  # fmt: skip
    """As `recursion.one_genus`, with a rest of so many cells from cell ``begins`` on."""
    edges, days, sigma = cum1.size, days_at.size, shared[SIGMA]
    unmated = 1.0 - mated_chance(shared[S_MATED], added[P_MATED, r])[0]
    winter, together = math.exp(shared[WINTER]), math.exp(shared[WINTER_COMPANY])
    at, rest = points_of(edges, begins, rests), np.empty(rests + 1)
    for m in range(rests + 1):
        rest[m] = STEP * m
    for s in range(sizes.size):
        k = sizes[s]
        own = new_founding(genus, shared, k, added, r)
        edge, masses = np.empty(edges), np.empty(edges - 1)
        first, last = first_days(own, shared[WITHIN_DAYS], begins, rests, edge, masses)
        value = worths(k, unmated)
        table1, table2 = np.empty((k + 1, edges)), np.empty((k + 1, k + 1, edges))
        late, parts = np.empty((WORTHS, k + 1, edges - 1 + PAD)), np.empty((k + 1, 4, edges))
        arrive, before = np.zeros((k + 1, edges - 1 + PAD)), np.zeros((2, edges))
        alive, cold = np.zeros(edges), np.zeros((k + 1, k + 1, rests + 1))
        lone, accompanied = np.empty(edges), np.empty(edges)
        ratio = math.exp(own.ratio_before) if k >= 2 else 1.0
        for q in range(z.size):
            weight, tilt = share * w[q], math.exp(sigma * z[q])
            level = math.exp(own.lone_before) * tilt
            before_workers(k, level, ratio, level * winter, together, cum1, begins, rests, table1)
            tilt = math.exp(shared[LOADING] * sigma * z[q])
            after_workers(k, own, unmated, tilt, cum2, lone, accompanied, table2, late, parts)
            mated_first(k, table2, 1.0 - unmated, late[MATED_FIRST])
            level = math.exp(own.lone_after) * tilt
            for n in range(1, k + 1):
                left_of(n, rest, level * winter, together, 0.0, cold[n])
            arrivals(k, table1, masses, first, last, arrive)
            queens_of(table1, k, weight, before)
            for i in range(at.size):
                alive[at[i]] += weight * own.fertile / k * worth_at(
                    at[i], k, arrive, first, last, begins, rests, table2, cold, cum2, own, level,
                    value[QUEENS], late[QUEENS],
                )  # fmt: skip
            for d in range(colony_at.size):
                for place, reading in enumerate((ALIKE, ANY, MATED_FIRST)):
                    chance = worth_at(
                        colony_at[d], k, arrive, first, last, begins, rests, table2, cold, cum2,
                        own, level, value[reading], late[reading],
                    )  # fmt: skip
                    if reading == ANY:
                        chance *= own.fertile
                    out[s, days + place * colony_at.size + d] += weight * chance
            shared_nest(k, parts, arrive, first, last, weight, left[s])
        straight(at, alive)
        for j in range(0, edges, KEPT):
            curve[s, 0, j] += alive[j]
        until_workers(k, before, masses, first, last, edge, own.fertile, days_at, out[s], curve[s])


@njit(cache=True, error_model="numpy", nogil=True)
def _fill_through(  # type: ignore[no-untyped-def]  # compiled by numba
    first_draw, last_draw, params, shared, added, share, sizes, colony_at, days_at, cuts1, cuts2,
    z, w, begins, rests, out, curve, left,
):  # fmt: skip
    """`recurse_by_calendar` for draws ``first_draw`` up to ``last_draw``."""
    edges = curve.shape[4]
    cum1, cum2 = np.empty(edges), np.empty(edges)
    for d in range(first_draw, last_draw):
        cumulative(shared[d, STEPS1 : STEPS1 + N1], cuts1, edges - 1, cum1)
        cumulative(shared[d, STEPS2 : STEPS2 + N2], cuts2, edges - 1, cum2)
        for g in range(params.shape[1]):
            for r in range(share.size):
                one_genus_through(
                    params[d, g], shared[d], added[d], r, share[r], sizes, cum1, cum2, begins,
                    rests, colony_at, days_at, z, w, out[d, g], curve[d, g], left[d, g],
                )  # fmt: skip
            scale(left[d, g])


def recurse_by_calendar(
    params: Floats,
    shared: Floats,
    added: Floats,
    share: Floats,
    sizes: Ints,
    cells: int,
    colony_at: Ints,
    days_at: Ints,
    cuts1: Floats,
    cuts2: Floats,
    z: Floats,
    w: Floats,
    winter: tuple[float, float] | None,
) -> tuple[Floats, Floats, Floats, Floats]:
    """Outcomes of new foundings, by draw, genus and size, that go through a winter rest.

    Parameters
    ----------
    params, shared, added, share, sizes, cells, colony_at, days_at, cuts1, cuts2, z, w :
        As in `recursion.recurse`; days are those of the calendar.
    winter : tuple of float, or None
        Day since day 0 on which winter rest begins, and its days. Where it begins after the last
        cell, or there is none, this is `recursion.recurse`.

    Returns
    -------
    out, alive, workers, left : float arrays
        As there; ``left`` by edge since the first worker, winter rest left out.
    """
    begins = cells if winter is None else round(winter[0] / STEP)
    if winter is None or begins >= cells:
        return recurse(
            params, shared, added, share, sizes, cells, colony_at, days_at, cuts1, cuts2, z, w
        )
    rests = min(max(round(winter[1] / STEP), 1), cells - begins)
    draws, genera = params.shape[0], params.shape[1]
    out = np.zeros((draws, genera, sizes.size, days_at.size + 3 * colony_at.size))
    curve = np.zeros((draws, genera, sizes.size, 2, cells + 1))
    left = np.zeros((draws, genera, sizes.size, 4, cells + 1))
    given = [np.ascontiguousarray(a) for a in (params, shared, added, share, sizes)]
    given += [np.ascontiguousarray(a) for a in (colony_at, days_at, cuts1, cuts2, z, w)]
    in_parallel(_fill_through, draws, *given, begins, rests, out, curve, left)
    return out, curve[:, :, :, 0], curve[:, :, :, 1], left.transpose(0, 1, 2, 4, 3)
