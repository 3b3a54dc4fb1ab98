"""The comparison: a study in, frozen results out.

Comes in: a `Study`. Goes out: a `Comparison`: results, the history behind them and, where the
model was fitted, its draws. This is the one place where the steps follow one another: history,
curves, fit, outcomes, gate (and one rerun), table, checks, verdicts, second opinion. Never: a
figure, a sentence, a file.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, Final

import pandas as pd

from cohort import results as store
from cohort.base import background
from cohort.base.display import Facts, Shown
from cohort.contrasts import GROUP, frame_of
from cohort.history import History
from cohort.history.warmed import compared_history
from cohort.model.priors import Priors
from cohort.model.sample import ACCEPT_AGAIN, DRAWS, Fit, Said, fitting, sample, silent
from cohort.nonparametric import curves
from cohort.nonparametric.counts import derived, headline_size, raw_table
from cohort.nonparametric.followed import compared as inside
from cohort.nonparametric.followed import reach
from cohort.nonparametric.killed import killed_incidence
from cohort.nonparametric.permutation import permutation
from cohort.results import Results
from cohort.second_opinion import Row, beside_model, common_day, opinions
from cohort.sheets import written
from cohort.study import Study
from cohort.terms.questions import AVERAGE, NEW, NEXT_SEASON

if TYPE_CHECKING:
    import xarray as xr

    from cohort.model.gate import Diagnosis
    from cohort.model.predictive import Checks
    from cohort.outcomes import Outcomes
    from cohort.verdict import Judged

SEED: Final = 20260401
"""The seed of a comparison for which none is given; every run records its own."""
RERUN: Final = 2
"""How many times more draws the one rerun takes."""


@dataclass(frozen=True, repr=False)
class Comparison(Shown):
    """Everything a comparison leaves in memory.

    Attributes
    ----------
    study : Study
    history : History
    results : Results
    fit : Fit or None
        None when there was nothing to fit.
    tree : DataTree or None
        What goes to ``draws.nc``.
    """

    study: Study
    history: History
    results: Results
    fit: Fit | None = None
    tree: xr.DataTree | None = None

    def facts(self) -> tuple[str, Facts]:
        """What its results say, and its notes."""
        title, facts = self.results.facts()
        notes = self.results.diagnosis.get("notes", ())
        return title.replace("Results", "Comparison"), facts | {
            f"note {i}": note for i, note in enumerate(notes, 1)
        }

    def write(self, folder: Any) -> Results:
        """Write the folder of results; see `cohort.results.write`."""
        return store.write(folder, self.results, self.tree)


type _Held = tuple[Checks, xr.DataArray]


def _held(fit: Fit, past: History, seed: int, level: float) -> _Held:
    """A fit beside what happened: the checks, and how likely each founding is by draw."""
    from cohort.model.pointwise import pointwise
    from cohort.model.predictive import checks

    return checks(fit, past, seed=seed, level=level), pointwise(fit)


def _settle(
    first: Fit, past: History, sizes: tuple[int, ...], headline: int, level: float, say: Said
) -> tuple[Fit, Outcomes, Diagnosis, background.Later[_Held]]:
    """A fit that is to be kept, after one rerun if the first did not settle, and what comes of it.

    Its outcomes, its diagnosis, and the fit beside what happened, which is made meanwhile.
    """
    from cohort.model.gate import judge
    from cohort.outcomes import outcomes, posterior_draws, printed

    kept = first
    for runs in (1, 2):
        say("Working out what becomes of new foundings")
        drawn = posterior_draws(kept.posterior, kept.design, kept.priors, seed=kept.seed)
        held = background.start(_held, kept, past, first.seed, level)
        post = outcomes(drawn, sizes, past.horizon)
        diagnosis = judge(
            kept.posterior,
            kept.stats,
            printed(post, headline),
            runs=runs,
            aside=True,
            asked=DRAWS if runs == 1 else RERUN * DRAWS,
        )
        if diagnosis.settled or runs == 2:
            break
        say("Not settled yet: fitting once more, in smaller steps")
        kept = sample(
            first.design,
            first.exposure,
            first.priors,
            seed=first.seed + 1,
            draws=RERUN * DRAWS,
            accept=ACCEPT_AGAIN,
        )
    return kept, post, diagnosis, held


def _unfit(frame: pd.DataFrame) -> str:
    """Why a study cannot be compared by the model yet; blank when it can."""
    compared = frame[frame["compared"]]
    ways = set(compared["arm"])
    if not len(compared):
        return "no founding enters the comparison"
    if ways == {"single"}:
        return "every founding started with one queen: there is no group to compare with"
    if ways == {"multi"}:
        return "every founding started with several queens: there is none by one to compare with"
    if not compared["with_workers"].any():
        return "no founding has workers yet"
    return ""


@background.ended_when_stopped()
def compare(
    study: Study, *, seed: int = SEED, level: float = 0.9, say: Said = silent
) -> Comparison:
    """Compare single with multi-queen foundings.

    Parameters
    ----------
    study : Study
    seed : int
        Of sampling, resampling and the genus not yet tried.
    level : float
        Mass of every likely range.
    say : callable
        Told what is being done.

    Returns
    -------
    Comparison
        With ``results.settled`` False (and the reasons in ``results.diagnosis``) when one way
        of founding is missing, no founding has workers, or the gate is shut.
    """
    say("Putting the looks in order")
    past, note = compared_history(study)
    frame = derived(past)
    raw = raw_table(frame, past.horizon, level=level)
    if not study.settings.show_keepers:  # the file lies beside a page that names none
        frame = frame.drop(columns="keeper")
    say("Drawing the curves that assume no model")
    plain = curves(past, level=level, seed=seed)
    killed = killed_incidence(study, past, level=level, seed=seed)
    plain = pd.concat([plain, killed], ignore_index=True) if len(killed) else plain
    headline = headline_size(frame) or 2  # pairs are asked about where nobody founded in groups
    run = {
        "title": study.settings.title,
        "season": study.settings.season,
        "horizon": past.horizon,
        "seed": int(seed),
        "level": float(level),
        "versions": store.versions(),
        "sheets": {source.name: source.sha256 for source in study.sources},
    }
    lots = permutation(past, seed=seed, day=common_day(past))
    checked: dict[str, Any] = {"headline": headline, "permutation": lots}
    other = background.start(_second, past, lots, seed, level)
    why = _unfit(frame)
    if why:
        notes = [note] if note else []
        diagnosis = {"settled": False, "reasons": [why], "notes": notes, **checked}
        found = _results(None, plain, frame, raw, diagnosis, run, other.result())
        return Comparison(study, past, found)
    checked |= reach(past.foundings, past.horizon)
    checked["notes"] = [note] if note else []
    kept = set(past.foundings["genus"].astype(str))
    checked["rare"] = sorted(set(study.foundings["genus"].astype(str)) - kept)
    return _fitted(study, past, frame, raw, plain, run, checked, other, say)


def _second(past: History, lots: dict[str, Any], seed: int, level: float) -> tuple[Row, ...]:
    """The same questions by other methods, which take nothing of the model but one prior."""
    assumed = Priors()["multi_days"]
    return opinions(past, lots, (assumed.mean, assumed.sd), seed=seed, level=level)


def _days_by_kind(checked: dict[str, Any]) -> dict[str, int]:
    """Last day that may be spoken of by kind; of all kinds and of a new one the study's."""
    every = dict.fromkeys((AVERAGE, NEXT_SEASON, NEW), checked["fair_day"])
    return {**checked["kind_days"], **every}


def _fitted(
    study: Study,
    past: History,
    frame: pd.DataFrame,
    raw: pd.DataFrame,
    plain: pd.DataFrame,
    run: dict[str, Any],
    checked: dict[str, Any],
    other: background.Later[tuple[Row, ...]],
    say: Said,
) -> Comparison:
    """The part of a comparison that needs the model."""
    from cohort.model.brood import brood_rows
    from cohort.model.flags import flags, unnamed
    from cohort.model.sample import prepare
    from cohort.model.warm_up import warm_checks, warm_likelihood
    from cohort.outcomes import comparisons
    from cohort.outcomes.bands import bands
    from cohort.outcomes.contrast_draws import contrast_draws
    from cohort.outcomes.prior_predictive import prior_predictive
    from cohort.verdict import behind, judged

    seed, level, headline = run["seed"], run["level"], checked["headline"]
    compared = frame[frame["compared"]]
    sizes = tuple(sorted({1, *compared["size"].astype(int)}))
    design, exposure = prepare(past, adjust=study.settings.adjust)
    if not study.settings.show_keepers:
        design = design.numbered("keeper")
    priors = Priors()
    background.start(warm_likelihood, exposure)
    prior = background.start(prior_predictive, design, priors, seed, sizes, past.horizon)
    first_brood = background.start(brood_rows, past, seed, level)
    background.start(warm_checks, past)
    say(fitting(design))
    first = sample(design, exposure, priors, seed=seed)
    kept, post, diagnosis, held = _settle(first, past, sizes, headline, level, say)
    notes = [*checked["notes"], *kept.design.notes]
    table, said = None, None
    if diagnosis.settled:
        say("Setting it beside what was assumed beforehand, and working out the first broods")
        brood = first_brood.result()
        notes += brood.notes
        table = comparisons(
            post, prior.result(), compared, level=level, days=_days_by_kind(checked)
        )
        if len(brood.rows):
            table = pd.concat([table, brood.rows], ignore_index=True)
        plain = pd.concat([plain, bands(post, headline, level=level)], ignore_index=True)
    say("Setting what the model expects beside what happened")
    checks, likely = held.result()
    plain = pd.concat([plain, checks.curves], ignore_index=True)
    held_to = checks.table if study.settings.show_keepers else unnamed(checks.table)
    report = (
        diagnosis.as_dict()
        | checked
        | {"notes": notes, "checks": held_to.to_dict("records"), "flags": list(flags(held_to))}
    )
    if table is not None:
        say("Asking how much of it rests on what was assumed beforehand")
        days = _days_by_kind(checked)
        about = behind(inside(past.foundings), past.horizon, days, report["flags"])
        said = judged(
            kept, post, prior.result(), table, past, about, brood.scaled,
            headline=headline, adjust=study.settings.adjust, say=say,
        )  # fmt: skip
        report["strength"] = said.told
    found = _results(table, plain, frame, raw, report, run, other.result(), said)
    extra = {}
    if table is not None:
        draws = contrast_draws(post, prior.result(), headline, _days_by_kind(checked))
        if draws is not None:
            found = replace(found, contrasts=frame_of(draws))
            extra = {GROUP: draws}
    tree = store.tree_of(kept, likely, run, extra)
    return Comparison(study, past, found, kept, tree)


def _results(
    table: pd.DataFrame | None,
    plain: pd.DataFrame,
    frame: pd.DataFrame,
    raw: pd.DataFrame,
    diagnosis: dict[str, Any],
    run: dict[str, Any],
    other: Sequence[Row],
    said: Judged | None = None,
) -> Results:
    found = written.empty("comparisons") if table is None else table
    second = beside_model(other, found, run["level"])
    whole = Results(found, plain, frame, raw, diagnosis, run, second_opinion=second)
    if said is None:
        return whole
    return replace(whole, verdicts=said.verdicts, sensitivity=said.sensitivity)
