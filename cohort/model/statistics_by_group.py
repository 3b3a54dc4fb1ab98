"""Numbers of a study by group: keeper, genus, way of founding, size, season, and all together.

Comes in: numbers per founding (`tallies`) and the groups of a study. Goes out: one value per study
for each check and group. Never: what is expected, a flag.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import numpy.typing as npt
import pandas as pd

from cohort.model.tallies import AFTER, BEFORE, IN_WINDOWS

Floats = npt.NDArray[np.float64]
Bools = npt.NDArray[np.bool_]
ARMS: Final = ("single", "multi")
LEAST_FOUNDINGS: Final = 4
"""Foundings from which on a group is held against the model on its own."""
LEAST_WITH_WORKERS: Final = 6
"""Foundings with workers from which on the shape of their days is."""
DAY: Final = "first_worker_day"
BY_ALL: Final = (
    "losses_before_workers",
    "losses_after_workers",
    "all_lost",
    "with_workers",
    DAY,
)
"""Checks of every group."""
SPREAD, SKEW, CLUSTERS = SHAPES = (
    "first_worker_spread",
    "first_worker_skew",
    "first_worker_clusters",
)
SIZES: Final = ("losses_before_by_size", "losses_after_by_size")
"""Sums over groups of the share of queens lost, times the doublings of two in their size."""
LOOKS: Final = ("looks_with_loss", "losses_long_gaps", "losses_after_first")
OF_WAY: Final = (*BY_ALL, *IN_WINDOWS)
OF: Final[Mapping[str, tuple[str, ...]]] = {
    "way": OF_WAY,
    "genus": (*BY_ALL, *SHAPES),
    "all": (*LOOKS, *SHAPES, "worst_fortnight"),
    "keeper": (*BY_ALL, "worst_fortnight"),
    "month": ("queens_lost",),
}
"""Checks of a kind of group; `BY_ALL` where it is not named."""
NOT_WHOLE: Final = (DAY, *SHAPES, *SIZES)
"""Checks that are no counts."""
BETWEEN: Final = ("keeper", "keeper_single", "keeper_multi", "size", "season")
"""Groups that cut across genera; taken given the numbers by genus and by way."""

type Key = tuple[str, str, str]
"""Check, kind of group, group."""


@dataclass(frozen=True)
class Group:
    """Foundings of one group.

    Attributes
    ----------
    by : str
        ``way``, ``genus``, ``size``, ``keeper``, ``keeper_single``, ``keeper_multi``, ``season``
        ``month`` (of the calendar; all foundings belong to each) or ``all``.
    name : str
        Which one; blank for all.
    mine : bool array, shape (foundings,)
    sizes : int array, shape (foundings,)
        Queens at the start, of groups where these are of several sizes; else 0.
    """

    by: str
    name: str
    mine: Bools
    sizes: npt.NDArray[np.int64]

    @property
    def large(self) -> bool:
        """Whether it is held against the model; the two ways always are."""
        return self.by in ("way", "month", "all") or int(self.mine.sum()) >= LEAST_FOUNDINGS

    @property
    def checks(self) -> tuple[str, ...]:
        """What is asked of it."""
        asked = OF.get(self.by, BY_ALL)
        if self.by == "all" and self.sizes.any():
            return (*asked, *SIZES)
        return (*asked, "largest_loss") if (self.by, self.name) == ("way", "multi") else asked


def _season(chosen: pd.DataFrame) -> npt.NDArray[Any]:
    """Season of each founding: as the study names it, else the year it was started in."""
    if "season" in chosen:
        named: npt.NDArray[Any] = chosen["season"].fillna("").to_numpy(str)
        return named
    year: npt.NDArray[Any] = chosen["started"].dt.year.astype(str).to_numpy(str)
    return year


def groups(chosen: pd.DataFrame) -> tuple[Group, ...]:
    """Groups of the compared foundings, in the order of the model.

    Sizes are asked about where groups of several sizes were founded, keepers and seasons where
    there are several.

    Parameters
    ----------
    chosen : DataFrame
        Compared rows of `cohort.history.History.foundings`.
    """
    arm, keeper = chosen["arm"].to_numpy(str), chosen["keeper"].fillna("").to_numpy(str)
    size, season = chosen["size"].to_numpy(np.int64), _season(chosen)
    several = len(set(size[size > 1])) > 1
    sizes = np.where((size > 1) & several, size, 0)
    levels = {"way": arm, "genus": chosen["genus"].to_numpy(str)}
    if several:
        levels["size"] = np.where(size > 1, size.astype(str), "")
    if len(set(keeper)) > 1:
        levels["keeper"] = keeper
        levels |= {f"keeper_{way}": np.where(arm == way, keeper, "") for way in ARMS}
    if len(set(season)) > 1:
        levels["season"] = season
    out = [Group("all", "", np.ones(len(chosen), np.bool_), sizes)]
    for by, of in levels.items():
        out += (Group(by, str(name), of == name, sizes) for name in sorted(set(of) - {""}))
    return tuple(out)


def statistics(tallied: Mapping[str, Floats], of: tuple[Group, ...]) -> dict[Key, Floats]:
    """Each check of each group, one value per study.

    Parameters
    ----------
    tallied : mapping of str to float array, shape (studies, foundings)
        See `cohort.model.tallies.tallies`.
    of : tuple of Group

    Returns
    -------
    dict of (check, by, group) to float array, shape (studies,)
        Queens, foundings or looks; of `DAY` the mean log day; of the spread, the SD of the log day
        within a genus; of the skew, its skewness; of the clusters, the share of its variance that
        lies between the two bunches of the best split: 2/pi of one normal bunch, near 1 of two
        that stand apart. ``all``: of days less the mean of their genus, of the clusters over
        genera each split on its own. Of `SIZES` as they say, by genus the shares alone. nan where
        a study has too little for it.
    """
    out: dict[Key, Floats] = {}
    for group in of:
        if group.by == "genus" and group.sizes.any():
            for check in SIZES:
                out[check, "genus", group.name] = _shares(check, tallied, group) @ group.mine
        for check in group.checks:
            key = check, group.by, group.name
            if check in SIZES:
                doublings = np.log2(np.maximum(group.sizes, 2) / 2)
                out[key] = _shares(check, tallied, group) @ doublings
            elif check == "largest_loss":
                out[key] = tallied[check][:, group.mine].max(axis=1)
            elif check == DAY:
                out[key] = _mean(tallied[DAY][:, group.mine])
            elif check in tallied and check not in SHAPES:
                out[key] = tallied[check][:, group.mine].sum(axis=1)
    return out | _shapes(tallied[DAY], of)


def _shares(check: str, tallied: Mapping[str, Floats], group: Group) -> Floats:
    """Share of queens each group lost, 0 of single ones, shape (studies, foundings).

    Of all queens before workers, and of those then alive after: a group of six that fights down to
    one loses five queens and a pair one, so that in numbers large groups would drown the others.
    """
    early = tallied[BEFORE]
    lost, of = (early, group.sizes) if check == SIZES[0] else (tallied[AFTER], group.sizes - early)
    shares: Floats = lost / np.maximum(of, 1) * (group.sizes > 0)
    return shares


def _mean(days: Floats) -> Floats:
    known = np.isfinite(days)
    count = known.sum(axis=1)
    total = np.where(known, days, 0.0).sum(axis=1)
    return _over(total, count, count > 0)


def _over(above: Floats, below: npt.NDArray[Any], where: Any) -> Floats:
    """A ratio, nan where it is none."""
    out: Floats = np.divide(above, below, out=np.full(np.shape(above), np.nan), where=where)
    return out


def _shapes(days: Floats, of: tuple[Group, ...]) -> dict[Key, Floats]:
    """Spread, skew and clusters of log days within each genus, and of all of them."""
    out: dict[Key, Floats] = {}
    sums = np.zeros((5, len(days)))
    for group in of:
        if group.by == "genus":
            moments = _moments(days[:, group.mine])
            out |= _shape(moments, "genus", group.name)
            sums += moments
    return out | _shape(sums, "all", "")


def _moments(days: Floats) -> Floats:
    """Number of days, those free to vary, sums of squares and cubes, and squares between bunches.

    Days less their mean; shape (5, studies).
    """
    known = np.isfinite(days)
    rest = np.sort(np.where(known, days - _mean(days)[:, None], np.inf), axis=1)
    rest[~np.isfinite(rest)] = 0.0  # at the end of each row, where it adds nothing
    n, first = known.sum(axis=1), np.arange(1, days.shape[1] + 1)
    below = np.cumsum(rest, axis=1)
    # bunches of the first 1, 2, ... days and of the others; their sums are opposite
    between = _over(below**2 * n[:, None], first * (n[:, None] - first), first < n[:, None])
    return np.stack(
        [n, np.maximum(n - 1, 0), np.sum(rest**2, axis=1), np.sum(rest**3, axis=1),
         np.nan_to_num(between).max(axis=1, initial=0.0)]
    )  # fmt: skip


def _shape(moments: Floats, by: str, name: str) -> dict[Key, Floats]:
    n, free, second, third, between = moments
    enough = (free >= 3) & (second > 1e-9)
    return {
        (SPREAD, by, name): np.sqrt(_over(second, free, enough)),
        (SKEW, by, name): _over(np.sqrt(n) * third, second**1.5, enough),
        (CLUSTERS, by, name): _over(between, second, enough),
    }


def margins(key: Key, of: tuple[Group, ...]) -> tuple[Key, ...]:
    """Numbers of the study that a number is taken given of; see `cohort.model.tail_areas`."""
    check, by, name = key
    if check == "worst_fortnight" and by == "keeper":
        return tuple((lost, by, name) for lost in (BEFORE, AFTER))
    fitted = [g for g in of if g.by in ("genus", "way")]
    if check in SIZES:
        sizes = [g for g in of if g.by == "size"] if check == SIZES[1] else []
        whole = tuple((check, g.by, g.name) for g in fitted if g.by == "genus")
        return (*whole, *(("with_workers", g.by, g.name) for g in sizes))
    if by in BETWEEN:
        at_risk = (("with_workers", by, name),) if check == AFTER else ()
        return (*((check, g.by, g.name) for g in fitted), *at_risk)
    if check in IN_WINDOWS:
        return ((IN_WINDOWS[check], by, name),)
    if check == SPREAD and by == "genus":
        return ((SPREAD, "all", ""),)
    if check in (*LOOKS, "queens_lost", "worst_fortnight"):
        return tuple((c, g.by, g.name) for g in of if g.by == "way" for c in (BEFORE, AFTER))
    return ()
