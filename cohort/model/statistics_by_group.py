"""Numbers of a study by group: keeper, genus, way of founding, size, season, and all together.

Comes in: numbers per founding (`tallies`) and the groups of a study. Goes out: one value per study
for each check and group. Never: what is expected, a flag.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import numpy.typing as npt
import pandas as pd

from cohort.model.tallies import window_names

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
LOOKS: Final = ("looks_with_loss", "losses_long_gaps", "losses_after_first")
OF_WAY: Final = (*BY_ALL, *window_names())
OF: Final[Mapping[str, tuple[str, ...]]] = {
    "way": OF_WAY,
    "genus": (*BY_ALL, *SHAPES),
    "all": (*LOOKS, *SHAPES),
}
"""Checks of a kind of group; `BY_ALL` where it is not named."""
NOT_WHOLE: Final = (DAY, *SHAPES)
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
        or ``all``.
    name : str
        Which one; blank for all.
    mine : bool array, shape (foundings,)
    """

    by: str
    name: str
    mine: Bools

    @property
    def large(self) -> bool:
        """Whether it is held against the model; the two ways always are."""
        return self.by in ("way", "all") or int(self.mine.sum()) >= LEAST_FOUNDINGS

    @property
    def checks(self) -> tuple[str, ...]:
        """What is asked of it."""
        asked = OF.get(self.by, BY_ALL)
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
    out = [Group("all", "", np.ones(len(chosen), np.bool_))]
    arm, keeper = chosen["arm"].to_numpy(str), chosen["keeper"].fillna("").to_numpy(str)
    size = chosen["size"].to_numpy(int)
    out += _levels("way", arm, [a for a in ARMS if (arm == a).any()])
    out += _levels("genus", chosen["genus"].to_numpy(str))
    if len(set(size[size > 1])) > 1:
        out += _levels("size", size.astype(str), [str(k) for k in sorted(set(size[size > 1]))])
    if len(set(keeper)) > 1:
        out += _levels("keeper", keeper)
        for way in ARMS:
            own = np.where(arm == way, keeper, "")
            out += _levels(f"keeper_{way}", own)
    season = _season(chosen)
    if len(set(season)) > 1:
        out += _levels("season", season)
    return tuple(out)


def _levels(by: str, of: npt.NDArray[Any], names: list[str] | None = None) -> Iterator[Group]:
    """A group for each level; a blank one is no level."""
    for name in sorted(set(of) - {""}) if names is None else names:
        yield Group(by, str(name), of == name)


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
        within a genus; of the skew, its skewness; of the clusters, (skewness squared + 1) /
        kurtosis, which is 1/3 for one normal cluster and nears 1 as two stand apart (Pearson's
        bound; SAS Institute calls it the bimodality coefficient). ``all``: of days less the mean
        of their genus. nan where a study has too few foundings with workers for it.
    """
    out: dict[Key, Floats] = {}
    for group in of:
        for check in group.checks:
            if check not in (*SHAPES, DAY, "largest_loss"):
                out[check, group.by, group.name] = tallied[check][:, group.mine].sum(axis=1)
        if "largest_loss" in group.checks:
            key = "largest_loss", group.by, group.name
            out[key] = tallied["largest_loss"][:, group.mine].max(axis=1)
        if DAY in group.checks:
            out[DAY, group.by, group.name] = _mean(tallied[DAY][:, group.mine])
    return out | _shapes(tallied[DAY], of)


def _mean(days: Floats) -> Floats:
    known = np.isfinite(days)
    count = known.sum(axis=1)
    total = np.where(known, days, 0.0).sum(axis=1)
    return _over(total, count, count > 0)


def _over(above: Floats, below: npt.NDArray[Any], where: Bools) -> Floats:
    """A ratio, nan where it is none."""
    out: Floats = np.divide(above, below, out=np.full(np.shape(above), np.nan), where=where)
    return out


def _shapes(days: Floats, of: tuple[Group, ...]) -> dict[Key, Floats]:
    """Spread, skew and clusters of log days within each genus, and of all about their genera."""
    out: dict[Key, Floats] = {}
    sums, free = np.zeros((4, len(days))), np.zeros(len(days))
    for group in of:
        if group.by != "genus":
            continue
        own = days[:, group.mine]
        known = np.isfinite(own)
        rest = np.where(known, own - _mean(own)[:, None], 0.0)
        moments = np.stack([known.sum(axis=1), *(np.sum(rest**p, axis=1) for p in (2, 3, 4))])
        out |= _shape(moments, moments[0] - 1, "genus", group.name)
        sums += moments
        free += np.maximum(moments[0] - 1, 0)
    return out | _shape(sums, free, "all", "")


def _shape(moments: Floats, free: Floats, by: str, name: str) -> dict[Key, Floats]:
    n, second, third, fourth = moments
    enough = (free >= 3) & (second > 1e-9)
    skew = _over(np.sqrt(n) * third, second**1.5, enough)
    kurtosis = _over(n * fourth, second**2, enough)
    return {
        (SPREAD, by, name): np.sqrt(_over(second, free, enough)),
        (SKEW, by, name): skew,
        (CLUSTERS, by, name): _over(skew**2 + 1, kurtosis, enough),
    }


def margins(key: Key, of: tuple[Group, ...]) -> tuple[Key, ...]:
    """Numbers of the study that a number is taken given of; see `cohort.model.tail_areas`."""
    check, by, name = key
    if by in BETWEEN:
        return tuple((check, g.by, g.name) for g in of if g.by in ("genus", "way"))
    if check in window_names():
        return (("losses_after_workers", by, name),)
    if check == SPREAD and by == "genus":
        return ((SPREAD, "all", ""),)
    if check in LOOKS:
        lost = ("losses_before_workers", "losses_after_workers")
        return tuple((c, g.by, g.name) for g in of if g.by == "way" for c in lost)
    return ()
