"""What a fit or a comparison is asked to fit, from all that either takes.

Comes in: a history, priors, what to adjust for, a variant, a model of one's own or its draws. Goes
out: an `Asked`: the design, the priors that hold, and who samples. Never: an outcome, a file.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import Any, Final

from cohort.base.asked import acceptance_of, whole_of
from cohort.base.errors import StudyError
from cohort.history import History
from cohort.history.warmed import as_compared
from cohort.likelihood.exposure import Exposure
from cohort.model.design import VARIANTS, ModelDesign, Variant
from cohort.model.priors import Priors
from cohort.model.sample import Fit, Said, Sampler, fitting, prepare, sample, silent
from cohort.study import Study
from cohort.terms.adjusting import Adjust

OWN_DRAWS: Final = "draws of one's own"
OWN_MODEL: Final = "a model of one's own"


@dataclass(frozen=True)
class Asked:
    """What is to be fitted, and by whom.

    Attributes
    ----------
    design, exposure, priors : as in a `Fit`
    adjust : Adjust
    sampler : Sampler or None
        None where draws were given: they cannot be drawn again.
    given : Fit or None
        Those draws.
    origin : str
        `OWN_MODEL`, `OWN_DRAWS`, or blank: the model of the page.
    notes : tuple of str
        What a reader of the results must know of it.
    model : FoundingModel or None
        The model of one's own.
    """

    design: ModelDesign
    exposure: Exposure
    priors: Priors
    adjust: Adjust
    sampler: Sampler | None = sample
    given: Fit | None = None
    origin: str = ""
    notes: tuple[str, ...] = ()
    model: Any = None

    def sampled(self, *, seed: int, draws: int | None = None, accept: float | None = None) -> Fit:
        """The fit; draws that were given are handed on, the seed for what else is drawn."""
        if self.given is not None:
            return replace(self.given, seed=seed)
        assert self.sampler is not None
        return self.sampler(
            self.design, self.exposure, self.priors, seed=seed, draws=draws, accept=accept
        )

    @property
    def again(self) -> Sampler | None:
        """Who fits again under other priors, or other foundings.

        Where a model of one's own was not changed it is that of the page, and so is who samples it.
        """
        unchanged = self.model is not None and self.model.about.change is None
        return sample if unchanged else self.sampler

    def numbered(self, level: str) -> Asked:
        """The same with levels of one kind numbered, see `ModelDesign.numbered`.

        A model of one's own was made so; draws that were given bear the names they bear.
        """
        return self if self.origin else replace(self, design=self.design.numbered(level))


def asked(
    past: History,
    agreed: Adjust,
    *,
    adjust: Adjust | Iterable[str] | None = None,
    priors: Priors | None = None,
    variant: Variant = "",
    model: Any = None,
) -> Asked:
    """What is to be fitted.

    Parameters
    ----------
    past : History
    agreed : Adjust
        What is adjusted for where no model of one's own says it.
    adjust, priors, variant, model : as in `cohort.compare`

    Raises
    ------
    StudyError
        A variant that is none, a model or draws of another study, or something beside a model that
        belongs into it.
    """
    if variant not in VARIANTS:
        raise StudyError(
            f"There is no variant '{variant}' of the model; there are "
            f"{', '.join(repr(name) for name in VARIANTS if name)}."
        )
    if priors is not None and not isinstance(priors, Priors):
        raise StudyError(
            f"priors are a cohort.Priors, as Priors(together={{'sd': 2.0}}); not {priors!r}."
        )
    if model is None:
        design, exposure = prepare(past, adjust=agreed, variant=variant)
        notes: tuple[str, ...] = (
            (f"The variant '{variant}' of the model: {VARIANTS[variant]}.",) if variant else ()
        )
        held = priors or Priors()
        return Asked(design, exposure, held, agreed, notes=notes + _prior_notes(held))
    beside = {"priors": priors is not None, "adjust": adjust is not None, "variant": bool(variant)}
    beside = {name: given for name, given in beside.items() if given}
    if beside:
        name = next(iter(beside))
        raise StudyError(
            f"{name} belongs to the model: give it to cohort.founding_model, or with draws of your "
            "own to cohort.Fit.from_draws, and not beside them."
        )
    return _own(past, agreed, model)


def _own(past: History, agreed: Adjust, model: Any) -> Asked:
    """A model of one's own, or draws of it."""
    design, exposure = prepare(past, adjust=agreed)
    if hasattr(model, "free_RVs"):
        from cohort.model.own_model import OwnSampler, about

        made = about(model, exposure)
        return Asked(
            made.design, made.exposure, made.priors, made.adjust, OwnSampler(model),
            origin=OWN_MODEL, model=model,
            notes=_model_notes(made.own, made.moves) + _prior_notes(made.priors),
        )  # fmt: skip
    if not isinstance(model, Fit):
        from cohort.model.own_draws import fit_of

        model = fit_of(model, design, exposure, Priors(), 0)
    if model.design.foundings != design.foundings:
        raise StudyError(
            f"These draws are of another study: they know {len(model.design.foundings)} foundings, "
            f"and this study compares {len(design.foundings)}."
        )
    return Asked(
        model.design, model.exposure, model.priors, agreed, None, given=model,
        origin=OWN_DRAWS, notes=_draws_notes(model) + _prior_notes(model.priors),
    )  # fmt: skip


AT_NOUGHT: Final = (
    "What is said of new foundings holds where what was added to the model is nought (at x = 0 of "
    "a covariate); the checks and the foundings of this study take it in."
)


def _prior_notes(priors: Priors) -> tuple[str, ...]:
    plain = Priors()
    changed = [name for name, prior in priors.by_name.items() if prior != plain[name]]
    if not changed:
        return ()
    return (f"Priors were changed for this comparison: {', '.join(changed)}.",)


def _model_notes(own: tuple[str, ...], moves: tuple[str, ...]) -> tuple[str, ...]:
    if not moves:
        return ()
    said = f"{', '.join(moves)} of each founding {'was' if len(moves) == 1 else 'were'} changed"
    if own:
        said = f"{', '.join(own)} {'moves' if len(own) == 1 else 'move'} {', '.join(moves)}"
    return (
        f"This comparison rests on a changed model, in which {said}. {AT_NOUGHT} Priors of what "
        "was added are left as they are where the others are halved and doubled, and the foundings "
        "allotted by lot were not fitted alone.",
    )


def _draws_notes(fit: Fit) -> tuple[str, ...]:
    out: tuple[str, ...] = (
        "This comparison rests on draws that were brought along. They were not drawn again where "
        "the chains do not agree, where weights say nothing of other priors, or by lot alone.",
    )
    if fit.own:
        out += (f"With them came {', '.join(fit.own)}. " + (
            AT_NOUGHT if fit.moved is not None else
            "What is said of new foundings, and the checks, hold where these are nought."
        ),)  # fmt: skip
    if "diverging" not in fit.stats:
        out += (
            "The draws came without the sampler's record: whether steps went astray is not known.",
        )
    return out


def fit(
    history: History | Study,
    *,
    seed: int,
    priors: Priors | None = None,
    adjust: Adjust | Iterable[str] | None = None,
    variant: Variant = "",
    draws: int | None = None,
    accept: float | None = None,
    model: Any = None,
    say: Said = silent,
) -> Fit:
    """The posterior of a study, or of a history.

    Parameters
    ----------
    history : History or Study
        Of a study the history that is compared, warmth included (`Study.history`).
    seed : int
    priors : Priors, optional
    adjust : dict, iterable of str or Adjust, optional
        Columns to adjust for: by the part they may move, as ``{"first_worker": ["housing"]}``, or a
        plain list, which moves the survival before and with workers. Left out, what the settings of
        the study say; of a history nothing.
    variant : str
        See `cohort.model.design.VARIANTS`.
    draws : int, optional
        Kept draws per chain; by default 1500.
    accept : float, optional
        Target acceptance, see `cohort.model.sample.sample`.
    model : optional
        A model of one's own, or its draws, see `cohort.compare`.
    say : callable
        Told what is being done.

    Returns
    -------
    Fit
        Whether it may be used is not judged; `cohort.compare` does.

    Raises
    ------
    StudyError
        Nothing to compare, a covariate that cannot enter, or a model of another study.

    Examples
    --------
    >>> import cohort
    >>> few = cohort.read_study("data/demo").only(genus=["Lasius", "Messor"])
    >>> found = cohort.fit(few, seed=1, draws=50, priors=cohort.Priors(together={"sd": 2.0}))
    >>> found.posterior["together"].sizes["draw"]
    50
    """
    seed = whole_of("seed", seed)
    draws = None if draws is None else whole_of("draws", draws, 1)
    accept = None if accept is None else acceptance_of(accept)
    past, agreed = as_compared(history, adjust)
    what = asked(past, agreed, adjust=adjust, priors=priors, variant=variant, model=model)
    say(fitting(what.design))
    return what.sampled(seed=seed, draws=draws, accept=accept)
