"""The long table of numbers: `comparisons.csv`, one row per number.

Comes in: outcomes of the posterior and of the priors, and the foundings behind them. Goes out: a
DataFrame with the columns of the contract. Never: a word, a rounding.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import numpy.typing as npt
import pandas as pd

from cohort.model.own_share import own_share
from cohort.nonparametric.followed import typical_first
from cohort.outcomes.quantities import NO_DAY, Key, Outcomes
from cohort.terms.questions import (
    AVERAGE,
    EQUAL_PER_QUEEN,
    NEW,
    NEXT_SEASON,
    PRIOR_SHARE,
    QUANTITIES,
    READINGS,
    Quantity,
)

Floats = npt.NDArray[np.float64]
COLUMNS: Final = (
    "question",
    "quantity",
    "unit",
    "reading",
    "genus",
    "arm",
    "queens",
    "day",
    "mean",
    "low",
    "high",
    "level",
    "foundings",
    "carried_over",
    "own_share",
    "chance_multi_better",
    "prior_chance_multi_better",
    "chance_practically_equal",
    "prior_rules",
)
SINGLE_QUEENS: Final = frozenset({"at_least_one_from_same_queens", "colonies_from_same_queens"})
"""Quantities of k queens kept singly: way `single`, queens k."""
DIRECT: Final = {
    "hazard_ratio": "ratio",
    "time_ratio": "ratio",
    "same_queens_any": "difference",
    "same_queens_count": "difference",
}
"""Quantities that are contrasts by themselves, and which kind."""
FLAGGED: Final = frozenset({"fertile_share"})
"""Quantities without a contrast whose row still says when the prior rules."""


@dataclass(frozen=True)
class _Row:
    key: Key
    quantity: Quantity
    arm: str
    draws: Floats
    prior: Floats

    @property
    def contrast(self) -> bool:
        return self.arm in {"difference", "ratio"}


def _rows(post: Outcomes, prior: Outcomes) -> Iterator[_Row]:
    """Every row group of the table: one key, one arm, all kinds."""
    for key, draws in post.values.items():
        name, size = key.quantity, key.size
        quantity = QUANTITIES[key.question, name]
        if name in DIRECT:
            yield _Row(key, quantity, DIRECT[name], draws, prior.values[key])
            continue
        single = size == 1 or name in SINGLE_QUEENS
        yield _Row(key, quantity, "single" if single else "multi", draws, prior.values[key])
        alone = key._replace(size=1)
        if not single and quantity.better != "none" and alone in post.values:
            yield _Row(
                key,
                quantity,
                "difference",
                draws - post.values[alone],
                prior.values[key] - prior.values[alone],
            )


def share_better(quantity: Quantity, draws: Floats, weights: Floats | None = None) -> Floats:
    """Share of draws of a contrast, per kind, in which several queens do better; nan if neither is.

    A tie counts half for each way: by day 30 neither may have had a chance at all.

    Parameters
    ----------
    quantity : Quantity
        Says which direction is better.
    draws : float array, shape (draws, ...)
        Multi less single, or multi over single where the unit is a ratio.
    weights : float array, shape (draws,), optional
        Weights that sum to 1; without them all draws count alike.
    """
    even = 1.0 if quantity.unit == "ratio" else 0.0
    better = np.where(draws == even, 0.5, draws > even)
    above: Floats = np.average(better, axis=0, weights=weights)
    if quantity.better == "none":
        return np.full_like(above, np.nan)
    return above if quantity.better == "higher" else 1.0 - above


def contrasts(post: Outcomes) -> Iterator[tuple[Key, Quantity, Floats]]:
    """Every contrast of the table that has a better direction: key, quantity and its draws."""
    for row in _rows(post, post):
        if row.contrast and row.quantity.better != "none":
            yield row.key, row.quantity, row.draws


def _summary(row: _Row, level: float) -> dict[str, Any]:
    """Numbers of one row group, one value per kind."""
    tail = (1 - level) / 2
    ratio = row.quantity.unit == "ratio"
    scaled = np.log(row.draws) if ratio else row.draws
    low, high = np.quantile(row.draws, [tail, 1 - tail], axis=0)
    out: dict[str, Any] = {
        "mean": np.exp(scaled.mean(axis=0)) if ratio else scaled.mean(axis=0),
        "low": low,
        "high": high,
    }
    # the last three kinds are the average, that of a next season, and the kind not yet tried
    out["own_share"] = np.append(own_share(scaled[:, :-3], scaled[:, -1]), [np.nan] * 3)
    if row.contrast or row.quantity.name in FLAGGED:
        before = np.log(row.prior) if ratio else row.prior
        out["prior_rules"] = scaled.std(axis=0) > PRIOR_SHARE * before.std(axis=0)
    if row.contrast:
        out["chance_multi_better"] = share_better(row.quantity, row.draws)
        out["prior_chance_multi_better"] = share_better(row.quantity, row.prior)
        low_equal, high_equal = row.quantity.equal_low, row.quantity.equal_high
        if row.quantity.name == "same_queens_count":  # .05 colonies for each of the k queens
            low_equal, high_equal = -EQUAL_PER_QUEEN * row.key.size, EQUAL_PER_QUEEN * row.key.size
        if math.isfinite(low_equal):
            near = (row.draws >= low_equal) & (row.draws <= high_equal)
            out["chance_practically_equal"] = near.mean(axis=0)
    return out


def counter(foundings: pd.DataFrame) -> Callable[[str, str, str, int, str], tuple[int, ...]]:
    """A function that counts the foundings behind a row, by way of founding.

    Parameters
    ----------
    foundings : DataFrame
        Compared foundings of the history, with ``shared_workers`` (reached workers with two or
        more living queens).

    Returns
    -------
    callable
        Of question, genus, arm, queens and quantity: the number of foundings of each way that
        the row rests on. ``average``, ``next_season`` and ``new`` rest on every genus; a contrast
        rests on its groups and on all singles.
    """
    sizes = foundings["size"].to_numpy()
    genera = foundings["genus"].to_numpy(str)
    reached = foundings["shared_workers"].to_numpy(bool)

    def count(question: str, genus: str, arm: str, queens: int, quantity: str) -> tuple[int, ...]:
        here = (
            np.ones(len(sizes), bool) if genus in {AVERAGE, NEW, NEXT_SEASON} else genera == genus
        )
        groups = here & (sizes == queens)
        if question == "queens_after_workers":
            return (int((groups & reached).sum()),)
        single = int((here & (sizes == 1)).sum())
        if quantity in SINGLE_QUEENS or arm == "single":
            return (single,)
        return (int(groups.sum()),) if arm == "multi" else (int(groups.sum()), single)

    return count


def _beyond(foundings: pd.DataFrame, days: Mapping[str, int]) -> Callable[[Key, str], bool]:
    """A function that says whether a number speaks of a day to which its kind was not followed.

    Days since the first worker are laid behind the day on which groups of the kind had theirs.
    """
    first = {genus: typical_first(foundings, genus) for genus in days}

    def beyond(key: Key, genus: str) -> bool:
        if key.day == NO_DAY or genus not in days:
            return False
        lag = first[genus] if key.question == "queens_after_workers" else 0.0
        return key.day + lag > days[genus]

    return beyond


def comparisons(
    post: Outcomes,
    prior: Outcomes,
    foundings: pd.DataFrame,
    *,
    level: float = 0.9,
    days: Mapping[str, int] | None = None,
) -> pd.DataFrame:
    """The long table.

    Parameters
    ----------
    post, prior : Outcomes
        Of the posterior and of the priors alone, the same kinds and sizes.
    foundings : DataFrame
        See `counter`.
    level : float
        Mass of the interval between ``low`` and ``high``.
    days : mapping of str to int, optional
        Last day that may be spoken of by kind, ``average`` and ``new`` among them; a kind that is
        not named may be spoken of on any.

    Returns
    -------
    DataFrame
        `COLUMNS`; ``day`` is blank where a quantity has none.
    """
    count, beyond = counter(foundings), _beyond(foundings, days or {})
    records: list[dict[str, Any]] = []
    for row in _rows(post, prior):
        question, name, size, day, reading = row.key
        numbers = _summary(row, level)
        for i, genus in enumerate(post.kinds):
            behind = count(question, genus, row.arm, size, name)
            records.append(
                {
                    "question": question,
                    "quantity": name,
                    "unit": row.quantity.unit,
                    "reading": reading,
                    "genus": genus,
                    "arm": row.arm,
                    "queens": size,
                    "day": pd.NA if day == NO_DAY else day,
                    "level": level,
                    "foundings": sum(behind),
                    "carried_over": 0 in behind or beyond(row.key, genus),
                    **{k: v[i] for k, v in numbers.items()},
                }
            )
    table = pd.DataFrame.from_records(records).reindex(columns=list(COLUMNS))
    table["day"] = table["day"].astype("Int64")
    table["prior_rules"] = table["prior_rules"].astype("boolean")
    order = {name: i for i, (_, name) in enumerate(QUANTITIES)}
    table["_order"] = table["quantity"].map(order)
    table["_reading"] = table["reading"].map(["", *READINGS].index)
    table = table.sort_values(["_order", "queens", "day", "_reading"], kind="stable")
    return table.drop(columns=["_order", "_reading"]).reset_index(drop=True)


def printed(post: Outcomes, headline: int) -> dict[str, Floats]:
    """Outcomes by name as (chain, draw) arrays, for the gate: all that the page may print.

    The page speaks of single foundings and of the headline size.
    """
    out: dict[str, Floats] = {}
    for (_, name, size, day, reading), values in post.values.items():
        if size not in {1, headline}:
            continue
        shaped = values.reshape(post.chains, -1, values.shape[1])
        when = "" if day == NO_DAY else f", day {day:.0f}"
        when += f", {reading}" if reading else ""
        for i, kind in enumerate(post.kinds):
            out[f"{name}[{kind}, {size}{when}]"] = shaped[..., i]
    return out
