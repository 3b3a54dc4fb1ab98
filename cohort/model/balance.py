"""Whether foundings that were not allotted by lot are alike in what was known beforehand.

Comes in: the compared foundings, and what stands in the model. Goes out: rows of the table of
checks. Never: an outcome; nothing that happened after day 0 is read.

Within each genus, the share of groups among the foundings of a keeper or a species is held
against drawing the ways by lot, exactly; the day of the start and the share of queens seen mating
by shuffling the ways. What nobody wrote down cannot be compared: balance here is no proof of a
fair comparison, and foundings by lot are not looked at, for there the lot is the proof.

A keeper who kept more groups than others does not mislead a model that has keepers in it. Such a
flag is told, and touches no question.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any, Final

import numpy as np
import numpy.typing as npt
import pandas as pd
from scipy.stats import hypergeom

from cohort.model.design import ModelDesign
from cohort.model.flags import row
from cohort.model.statistics_by_group import LEAST_FOUNDINGS
from cohort.model.tail_areas import tail_area

Floats = npt.NDArray[np.float64]
Bools = npt.NDArray[np.bool_]
LEAST: Final = 8
"""Foundings not by lot from which on they are looked at."""
SHUFFLES: Final = 10_000


def groups_by_lot(multi: Bools, mine: Bools, genus: npt.NDArray[Any]) -> Floats:
    """Chance of each number of groups among some foundings, had the ways been drawn by lot.

    Within each genus the number of groups is kept; the numbers of the genera add up.

    Parameters
    ----------
    multi, mine : bool arrays, shape (foundings,)
    genus : array, shape (foundings,)

    Returns
    -------
    float array
        Chance of 0, 1, ... groups.
    """
    chances = np.ones(1)
    for name in sorted(set(genus)):
        here = genus == name
        own = int((mine & here).sum())
        given = hypergeom(int(here.sum()), int((multi & here).sum()), own)
        chances = np.convolve(chances, given.pmf(np.arange(own + 1)))
    return chances


def _middle_p(chances: Floats, seen: int) -> float:
    """Two-sided mid-p of a number."""
    half = 0.5 * chances[seen]
    side = min(chances[seen + 1 :].sum() + half, chances[:seen].sum() + half)
    return float(min(1.0, 2 * side))


def _levels(
    frame: pd.DataFrame, multi: Bools, by: str, level: float, known: bool
) -> Iterator[dict[str, Any]]:
    """A row for each keeper or species that the ways could have fallen otherwise on."""
    genus, of = frame["genus"].to_numpy(str), frame[by].fillna("").to_numpy(str)
    bears = () if known else None
    for where in sorted(set(genus)) if by == "species" else [""]:
        here = (genus == where) | (where == "")
        for name in sorted(set(of[here]) - {""}):
            mine = (of == name) & here
            if mine.sum() < LEAST_FOUNDINGS:
                continue
            chances = groups_by_lot(multi[here], mine[here], genus[here])
            if chances.max() > 1 - 1e-9:
                continue
            counts, sums = np.arange(len(chances)), np.cumsum(chances)
            seen = int((multi & mine).sum())
            tail = (1 - level) / 2
            low, high = (float(np.searchsorted(sums, q - 1e-12)) for q in (tail, 1 - tail))
            numbers = float(seen), float(chances @ counts), low, high
            area = _middle_p(chances, seen)
            yield row("allotment", by, str(name), numbers, area, bears_on=bears, genus=where)


def _shuffled(multi: Bools, genus: npt.NDArray[Any], rng: np.random.Generator) -> Bools:
    """Ways shuffled within each genus, shape (shuffles, foundings)."""
    out = np.tile(multi, (SHUFFLES, 1))
    for name in sorted(set(genus)):
        here = np.flatnonzero(genus == name)
        out[:, here] = rng.permuted(out[:, here], axis=1)
    return out


def _gap(values: Floats, multi: Bools) -> Floats:
    """Mean of the groups less mean of the single ones, for each row of ways."""
    groups = multi.sum(axis=-1)
    ahead: Floats = (multi @ values) / groups - (~multi @ values) / (multi.shape[-1] - groups)
    return ahead


def _number(
    check: str, values: Floats, multi: Bools, genus: npt.NDArray[Any], seed: int, level: float,
    known: bool,
) -> Iterator[dict[str, Any]]:  # fmt: skip
    """A row for a number known of each founding, taken less the mean of its genus."""
    means = pd.Series(values).groupby(genus).transform("mean").to_numpy(float)
    centred = values - means
    drawn = _gap(centred, _shuffled(multi, genus, np.random.default_rng(seed)))
    if drawn.std() < 1e-9:
        return
    seen, tail = float(_gap(centred, multi)), (1 - level) / 2
    low, high = (float(v) for v in np.quantile(drawn, [tail, 1 - tail]))
    area = tail_area(drawn, seen)
    bears = () if known else None
    numbers = seen, float(drawn.mean()), low, high
    yield row(check, "all", "", numbers, area, bears_on=bears)


def rows(
    chosen: pd.DataFrame, design: ModelDesign, *, seed: int, level: float = 0.9
) -> list[dict[str, Any]]:
    """Rows of the table of checks on foundings that were not allotted by lot.

    Parameters
    ----------
    chosen : DataFrame
        Compared rows of `cohort.history.History.foundings`.
    design : ModelDesign
        What stands in the model: what it knows of touches no question.
    seed : int
        Of the shuffling.
    level : float
        Mass between ``low`` and ``high``.

    Returns
    -------
    list of dict
        ``allotment`` by keeper and by species (number of groups); ``allotment_day`` (days by which
        groups were started later than single queens of their genus) and ``allotment_mating``
        (share of their queens seen mating, less that of single queens). Empty where fewer than
        `LEAST` foundings were not by lot, or all of them in one way.
    """
    frame = chosen[chosen["assigned"].to_numpy(str) != "random"]
    multi = frame["arm"].to_numpy(str) == "multi"
    if len(frame) < LEAST or multi.all() or not multi.any():
        return []
    genus = frame["genus"].to_numpy(str)
    day = frame["started"].to_numpy("datetime64[D]").astype(float)
    mated = frame["mating_seen"].to_numpy(float) / frame["size"].to_numpy(float)
    out = list(_levels(frame, multi, "keeper", level, "keeper" in design.levels))
    out += _levels(frame, multi, "species", level, "kind_within" in design.levels)
    flights = "flight" in design.levels
    out += _number("allotment_day", day, multi, genus, seed, level, flights)
    out += _number("allotment_mating", mated, multi, genus, seed + 1, level, False)
    return out
