"""A study fitted again under other assumptions: each refit a task that leaves a file.

Comes in: a history, the fit of the page, a folder. Goes out: two tables, of other readings of the
study and of the variants of the model. Never: a change of the page's numbers, a choice among them.

A refit takes as long as a comparison. Each leaves a file in the folder of results as soon as it is
done, so that work that was broken off is taken up; it bears the mark of its comparison.
"""

from __future__ import annotations

import json
from collections.abc import Iterable
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Any, Final

import numpy as np
import pandas as pd

from cohort.base import tasks
from cohort.base.display import several
from cohort.base.errors import StudyError
from cohort.history import History
from cohort.model.asked import fit
from cohort.model.bounds import READINGS
from cohort.model.design import VARIANTS
from cohort.model.loo import LeftOut, variant_row
from cohort.model.priors import Priors
from cohort.model.sample import Fit, Said, silent
from cohort.model.sensitivity import settled
from cohort.nonparametric.counts import derived
from cohort.results import mark_of
from cohort.results.files import REFITS
from cohort.terms.adjusting import Adjust

DRAWS: Final = 1000
"""Kept draws per chain of every refit."""
WATCHED: Final = (
    "share_alive",
    "hazard_ratio",
    "chance_by_day",
    "time_ratio",
    "rivalry_ratio",
    "chance_per_founding",
    "chance_lasting",
    "same_queens_any",
    "same_queens_count",
)
"""Quantities followed through the refits: on the last day, or without a day."""
KEYS: Final = ["quantity", "colony", "genus", "arm", "queens", "day"]
"""What a row of ``bounds.csv`` speaks of; ``reading`` is there a reading of the whole study, so the
reading of a colony stands in ``colony``."""


@dataclass(frozen=True)
class How:
    """How a study is fitted again: what all refits of one comparison have in common."""

    priors: Priors
    adjust: Adjust | Iterable[str]
    horizon: int
    level: float
    seed: int
    draws: int = DRAWS


@dataclass(frozen=True)
class Keeping:
    """Where refits are kept as they come, and who does them.

    Attributes
    ----------
    folder : Path
        Of results.
    mark : str, optional
        Of the comparison, see `cohort.results.mark_of`; not looked at if not given.
    jobs, scheduler
        See `cohort.base.tasks.finish`.
    """

    folder: Path
    mark: str | None = None
    jobs: int = 1
    scheduler: str = ""

    @property
    def of(self) -> str:
        """What a refit bears that may be used again: its comparison, and the code it is of."""
        return f"{self.mark} {tasks.code()}"

    def check(self) -> None:
        """Raise if the folder holds another comparison by now.

        Raises
        ------
        StudyError
        """
        if self.mark not in (None, mark_of(self.folder)):
            raise StudyError(
                f"{self.folder} holds another comparison by now: it was written while this one was "
                "made again under other assumptions. Nothing of that was written. Compare again "
                "with --thorough, and name a folder that no other command writes to."
            )

    def put(self, place: Path, found: Any) -> None:
        """Put what a refit found into its file."""
        self.check()
        tasks.put_json(place, {"of": self.of, "found": found})


def _found(of: str, place: Path) -> Any:
    """What an earlier refit of the same comparison found; None where there is none."""
    try:
        held = json.loads(place.read_text("utf-8"))
        return held["found"] if held["of"] == of else None
    except (OSError, ValueError, KeyError, TypeError):
        return None


def _there(of: str, place: Path) -> bool:
    return _found(of, place) is not None


def _table(fitted: Fit, history: History, how: How) -> list[dict[str, Any]]:
    """The watched rows of the long table of a fit, as JSON has them: no nan."""
    from cohort.outcomes import comparisons, outcomes, posterior_draws, prior_draws

    frame = derived(history)
    compared = frame[frame["compared"]]
    sizes = tuple(sorted({1, *compared["size"].astype(int)}))
    drawn = posterior_draws(fitted.posterior, fitted.design, fitted.priors, seed=fitted.seed)
    prior = prior_draws(fitted.design, fitted.priors, seed=fitted.seed, draws=50)
    post = outcomes(drawn, sizes, how.horizon)
    table = comparisons(post, outcomes(prior, sizes, how.horizon), compared, level=how.level)
    late = table["day"].isna() | table["day"].eq(how.horizon)
    watched = table[table["quantity"].isin(WATCHED) & late].rename(columns={"reading": "colony"})
    columns = [*KEYS, "unit", "mean", "low", "high", "level", "foundings", "chance_multi_better"]
    return list(json.loads(watched[columns].to_json(orient="records", double_precision=15)))


def reading(name: str, other: History, how: How) -> list[dict[str, Any]]:
    """Rows of ``bounds.csv`` under another reading of the study, `other`."""
    meaning = READINGS[name][0]
    try:
        fitted = fit(other, seed=how.seed, priors=how.priors, adjust=how.adjust, draws=how.draws)
    except StudyError as error:
        return [{"reading": name, "meaning": f"{meaning}: {error}"}]
    about = {"reading": name, "meaning": meaning, "settled": settled(fitted)}
    return [about | row for row in _table(fitted, other, how)]


def variant(name: str, history: History, how: How, reference: LeftOut) -> dict[str, Any]:
    """The row of ``variants.csv`` of a variant of the model."""
    row = variant_row(
        history, name, how.seed, adjust=how.adjust, priors=how.priors, draws=how.draws,
        reference=reference,
    )  # fmt: skip
    plain: dict[str, Any] = json.loads(pd.Series(row).to_json(double_precision=15))
    return plain


def unchanged(one: History, other: History) -> bool:
    """Whether two readings of a study are the same in all that is compared."""
    mine, theirs = one.foundings, other.foundings
    if not mine["compared"].equals(theirs["compared"]):
        return False
    kept = np.flatnonzero(mine["compared"])
    columns = ["code", "after", "by", "at_risk", "alive"]
    a, b = (h.intervals.loc[h.intervals["code"].isin(kept), columns] for h in (one, other))
    return bool(np.array_equal(a.to_numpy(float), b.to_numpy(float)))


def refits(
    history: History,
    base: Fit,
    first: dict[str, Any],
    reference: LeftOut,
    how: How,
    keeping: Keeping,
    *,
    say: Said = silent,
) -> dict[str, pd.DataFrame]:
    """Tables of the study fitted under other readings and by other variants of the model.

    Parameters
    ----------
    history : History
    base : Fit
        The model of the page.
    first : dict
        Its row among the variants.
    reference : LeftOut
        Its foundings, each foretold by the others.
    how : How
    keeping : Keeping
    say : callable

    Returns
    -------
    dict of DataFrame
        ``bounds``: ``reading``, ``meaning``, ``settled``, then columns of ``comparisons.csv`` and
        ``shift`` (mean minus the mean of the page's reading, ``as agreed``). A reading that changes
        nothing in this study (nobody was taken out, say) is told so in ``meaning`` and not fitted.
        ``variants``: see `cohort.model.loo.compare_variants`.

    Raises
    ------
    StudyError
        The folder holds another comparison by now, or see `cohort.base.tasks.finish`.
    """
    folder = keeping.folder / REFITS
    others = {name: make(history) for name, (_, make) in READINGS.items()}
    named = {name: folder / f"reading_{name.replace(' ', '_')}.json" for name in others}
    varied = {name: folder / f"variant_{name.replace(' ', '_')}.json" for name in VARIANTS if name}
    todo: dict[Path, tasks.Task] = {
        named[name]: partial(reading, name, other, how)
        for name, other in others.items()
        if not unchanged(other, history)
    }
    todo |= {
        place: partial(variant, name, history, how, reference) for name, place in varied.items()
    }
    keeping.check()
    say(f"Fitting again under {several(len(todo), 'other assumption')}")
    tasks.finish(
        todo, keeping.put, there=partial(_there, keeping.of), jobs=keeping.jobs,
        scheduler=keeping.scheduler,
    )  # fmt: skip
    found = {place: _found(keeping.of, place) for place in todo}
    agreed = {"reading": "as agreed", "meaning": "the study as read", "settled": settled(base)}
    rows = [agreed | row for row in _table(base, history, how)]
    for name, place in named.items():
        same = f"{READINGS[name][0]}: changes nothing here"
        rows += found.get(place, [{"reading": name, "meaning": same}])
    variants = pd.DataFrame([first, *(found[place] for place in varied.values())])
    return {"bounds": _shifted(pd.DataFrame(rows)), "variants": variants}


def _shifted(table: pd.DataFrame) -> pd.DataFrame:
    """The same with how far each mean lies from that of the page's reading."""
    plain = table[table["reading"] == "as agreed"].set_index(KEYS)["mean"]
    index = pd.MultiIndex.from_frame(table[KEYS])
    table["shift"] = table["mean"].to_numpy(float) - plain.reindex(index).to_numpy(float)
    first = ["reading", "meaning", "settled"]
    return table[[*first, *(name for name in table.columns if name not in first)]]
