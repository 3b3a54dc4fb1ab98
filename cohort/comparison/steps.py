"""The comparison: a study in, frozen results out.

Comes in: a `Study`. Goes out: a `Comparison`: results, the history behind them and, where the
model was fitted, its draws. This is the one place where the steps follow one another: history,
curves, fit, outcomes, gate (and further runs), table, checks, verdicts, second opinion. Never: a
figure, a sentence, a file.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Any, Final

import pandas as pd

from cohort import results as store
from cohort.base import background
from cohort.base.asked import acceptance_of, level_of, listener_of, one_of, whole_of
from cohort.comparison.record import Comparison
from cohort.comparison.settled import settled
from cohort.history import History
from cohort.history.warmed import compared_history
from cohort.model.asked import Asked, asked
from cohort.model.design import Variant
from cohort.model.priors import Priors
from cohort.model.sample import Said, fitting, silent, usual_draws
from cohort.nonparametric import curves
from cohort.nonparametric.counts import derived, headline_size, raw_table
from cohort.nonparametric.followed import compared as inside
from cohort.nonparametric.followed import reach
from cohort.nonparametric.killed import killed_incidence
from cohort.nonparametric.permutation import permutation
from cohort.results import Results
from cohort.results.headline_draws import GROUP, frame_of
from cohort.second_opinion import Row, beside_model, common_day, opinions
from cohort.sheets import written
from cohort.study import Study
from cohort.terms.adjusting import Adjust
from cohort.terms.questions import AVERAGE, NEW, NEXT_SEASON

if TYPE_CHECKING:
    from cohort.verdict import Judged

SEED: Final = 20260401
"""The seed of a comparison for which none is given; every run records its own."""
_READ: Final = "Read one with cohort.read_study(folder)."


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
    study: Study,
    *,
    seed: int = SEED,
    level: float = 0.9,
    priors: Priors | None = None,
    adjust: Adjust | Iterable[str] | None = None,
    variant: Variant = "",
    draws: int | None = None,
    accept: float | None = None,
    model: Any = None,
    say: Said = silent,
) -> Comparison:
    """Compare single with multi-queen foundings.

    Parameters
    ----------
    study : Study
    seed : int
        Of sampling, resampling and the genus not yet tried.
    level : float
        Mass of every likely range, between 0.5 and 0.99.
    priors : Priors, optional
        In place of those of the table; verdicts and sensitivity take these.
    adjust : dict, iterable of str or Adjust, optional
        Columns to adjust for, one's own too, in place of those the settings of the study say: by
        the part they may move, as ``{"first_worker": ["housing"]}``, or a plain list, which moves
        the survival before and with workers.
    variant : str
        See `cohort.model.design.VARIANTS`.
    draws : int, optional
        Kept draws per chain; by default 1500, of studies of 200 foundings and more
        1000, of 5,000 and more 900.
    accept : float, optional
        Target acceptance, see `cohort.model.sample.sample`.
    model : optional
        A model of one's own, made by `cohort.founding_model` of this study: it is sampled by
        nutpie, and goes through the same gate, outcomes, checks and verdicts to the same page. Or
        draws of one's own: a `Fit` (`Fit.from_draws`), a DataTree, a Dataset or a DataFrame of
        draws, under the priors of the table. Compiling a model takes half a minute and more.
    say : callable
        Told what is being done.

    Returns
    -------
    Comparison
        With ``results.settled`` False (and the reasons in ``results.diagnosis``) when one way
        of founding is missing, no founding has workers, or the gate is shut.

    Raises
    ------
    StudyError
        No study, or no such level; a covariate that cannot enter; a model or draws of another
        study, or that lack a variable; priors, adjust or a variant beside a model, into which they
        belong.

    Notes
    -----
    An effect of one's own moves the foundings of the study. Outcomes of *new* foundings, and all
    contrasts made of them, hold where it is nought: of a covariate, at x = 0. The results say so in
    a note. Forecasts from the written folder (``due``, ``plan``) do not know of it.

    Examples
    --------
    The tests pass over lines marked ``+SKIP``, because they sample for half a minute:

    >>> import cohort
    >>> s = cohort.read_study("data/demo")
    >>> made = cohort.compare(s)  # doctest: +SKIP
    >>> made.results.verdicts[["genus", "contrast", "word", "side"]]  # doctest: +SKIP

    Where nothing can be compared the counts are there all the same:

    >>> alone = cohort.compare(s.only(queens=1))
    >>> alone.results.settled
    False
    >>> len(alone.results.raw) > 0
    True
    """
    one_of(study, Study, _READ)
    level, seed, say = level_of(level), whole_of("seed", seed), listener_of(say)
    draws = None if draws is None else whole_of("draws", draws, 1)
    accept = None if accept is None else acceptance_of(accept)
    if adjust is not None and model is None:
        agreed = replace(study.settings, adjust=Adjust.of(adjust))
        study = replace(study, settings=agreed)
    say("Putting the looks in order")
    past, note = compared_history(study)
    frame = derived(past)
    why = _unfit(frame)
    what = None if why else asked(
        past, study.settings.adjust, adjust=None if model is None else adjust, priors=priors,
        variant=variant, model=model,
    )  # fmt: skip
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
        **_otherwise(what),
    }
    lots = permutation(past, seed=seed, day=common_day(past))
    checked: dict[str, Any] = {"headline": headline, "permutation": lots}
    assumed = what.priors if what else priors or Priors()
    other = background.start(_second, past, lots, assumed, seed, level)
    if what is None:
        notes = [note] if note else []
        diagnosis = {"settled": False, "reasons": [why], "notes": notes, **checked}
        found = _results(None, plain, frame, raw, diagnosis, run, other.result())
        return Comparison(study, past, found)
    winter = what.design.winter
    checked |= reach(past.foundings, past.horizon, spring=None if winter is None else sum(winter))
    checked["notes"] = [note] if note else []
    kept = set(past.foundings["genus"].astype(str))
    checked["rare"] = sorted(set(study.foundings["genus"].astype(str)) - kept)
    return _fitted(
        study,
        past,
        frame,
        raw,
        plain,
        run,
        checked,
        other,
        what,
        draws or usual_draws(what.design),
        accept,
        say,
    )


def _otherwise(what: Asked | None) -> dict[str, Any]:
    """What of a comparison is not as the page has it by itself, for ``run.json``."""
    if what is None:
        return {}
    out: dict[str, Any] = {"model": what.origin} if what.origin else {}
    if what.design.variant:
        out["variant"] = what.design.variant
    if what.priors != Priors():
        out["priors"] = what.priors.as_json()
    return out


def _second(
    past: History, lots: dict[str, Any], priors: Priors, seed: int, level: float
) -> tuple[Row, ...]:
    """The same questions by other methods, which take nothing of the model but one prior."""
    assumed = priors["multi_days"]
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
    what: Asked,
    draws: int,
    accept: float | None,
    say: Said,
) -> Comparison:
    """The part of a comparison that needs the model."""
    from cohort.model.brood import brood_rows
    from cohort.model.flags import flags, unnamed
    from cohort.model.warm_up import warm_checks, warm_likelihood
    from cohort.outcomes import comparisons
    from cohort.outcomes.bands import bands
    from cohort.outcomes.contrast_draws import contrast_draws
    from cohort.outcomes.prior_predictive import prior_predictive
    from cohort.verdict import behind, judged

    seed, level, headline = run["seed"], run["level"], checked["headline"]
    compared = frame[frame["compared"]]
    sizes = tuple(sorted({1, *compared["size"].astype(int)}))
    if not study.settings.show_keepers:
        what = what.numbered("keeper")
    background.start(warm_likelihood, what.exposure)
    prior = background.start(prior_predictive, what.design, what.priors, seed, sizes, past.horizon)
    first_brood = background.start(brood_rows, past, seed, level)
    background.start(warm_checks, past)
    say(fitting(what.design))
    first = what.sampled(seed=seed, draws=draws, accept=accept)
    kept, post, diagnosis, held = settled(first, what, past, sizes, headline, level, say, draws)
    notes = [*checked["notes"], *kept.design.notes, *what.notes]
    table, said = None, None
    if diagnosis.settled:
        say("Comparing with what was assumed beforehand, and counting first broods")
        brood = first_brood.result()
        notes += brood.notes
        table = comparisons(
            post, prior.result(), compared, level=level, days=_days_by_kind(checked)
        )
        if len(brood.rows):
            table = pd.concat([table, brood.rows], ignore_index=True)
        plain = pd.concat([plain, bands(post, headline, level=level)], ignore_index=True)
    say("Checking what the model expects against what happened")
    checks, likely = held.result()
    plain = pd.concat([plain, checks.curves], ignore_index=True)
    held_to = checks.table if study.settings.show_keepers else unnamed(checks.table)
    report = (
        diagnosis.as_dict()
        | checked
        | {"notes": notes, "checks": held_to.to_dict("records"), "flags": list(flags(held_to))}
    )
    if table is not None:
        say("Asking how much rests on what was assumed beforehand")
        days = _days_by_kind(checked)
        about = behind(inside(past.foundings), past.horizon, days, report["flags"])
        said = judged(
            kept, post, prior.result(), table, past, about, brood.scaled,
            headline=headline, adjust=what.adjust, sampler=what.again, say=say,
        )  # fmt: skip
        report["strength"] = said.told
    seconds = other.result()
    found = _results(table, plain, frame, raw, report, run, seconds, said, bool(past.winters))
    behind_it = None
    if table is not None:
        behind_it = contrast_draws(post, prior.result(), headline, _days_by_kind(checked))
    if behind_it is not None:
        found = replace(found, contrasts=frame_of(behind_it))
    tree = store.tree_of(kept, likely, run, {} if behind_it is None else {GROUP: behind_it})
    return Comparison(study, past, found, kept, tree, what.model)


def _results(
    table: pd.DataFrame | None,
    plain: pd.DataFrame,
    frame: pd.DataFrame,
    raw: pd.DataFrame,
    diagnosis: dict[str, Any],
    run: dict[str, Any],
    other: Sequence[Row],
    said: Judged | None = None,
    winter: bool = False,
) -> Results:
    found = written.empty("comparisons") if table is None else table
    second = beside_model(other, found, run["level"], winter=winter)
    tables = {"comparisons": found, "curves": plain, "foundings": frame, "second_opinion": second}
    if said is not None:
        tables |= {"verdicts": said.verdicts, "sensitivity": said.sensitivity}
    # of the types they have when they are read again
    whole: dict[str, Any] = {name: written.typed(own, name) for name, own in tables.items()}
    return Results(**whole, raw=raw, diagnosis=diagnosis, run=run)
