"""A PyMC model of foundings in the place of the density: is it of this study, and its draws.

Comes in: a model made by `cohort.founding_model`. Goes out: a function that samples it as
`cohort.model.sample.sample` does the density. Never: a model of its own.
"""

from __future__ import annotations

import math
from typing import Any, Final

import numpy as np
import pymc as pm
import xarray as xr

from cohort.base.errors import StudyError
from cohort.likelihood.exposure import Exposure
from cohort.model import nuts
from cohort.model.design import ModelDesign
from cohort.model.graph import MOVED, OBSERVED, About, FoundingModel, written_out
from cohort.model.own_draws import wanted
from cohort.model.priors import Priors
from cohort.model.sample import ACCEPT, CHAINS, DEPTH, DRAWS, TUNE, Fit
from cohort.model.written_parts import COORDINATE, SIGNED

MADE_BY: Final = (
    "Make it with cohort.founding_model(study), changed where you want it by change=. Of a model "
    "made in another way give the draws: compare(study, model=draws)."
)


def about(model: pm.Model, exposure: Exposure) -> About:
    """What a model was made of, if it can stand in the place of that of the page.

    Parameters
    ----------
    model : pymc.Model
    exposure : Exposure
        Of the study that is compared.

    Raises
    ------
    StudyError
        It was made in another way, is of another study, was observed otherwise, lacks a variable,
        or has its frailty averaged out.
    """
    made = getattr(model, "about", None)
    if not isinstance(model, FoundingModel) or not isinstance(made, About):
        raise StudyError(f"This model does not say what study it is of. {MADE_BY}")
    if made.average_frailty:
        raise StudyError(
            "This model has its frailty averaged out, so it cannot be sampled. Make it without "
            "average_frailty."
        )
    _of_study(made.exposure, exposure)
    lacks = [name for name in (*wanted(made.design), OBSERVED) if name not in model.named_vars]
    if lacks:
        raise StudyError(f"This model lacks the variables {', '.join(lacks)}. {MADE_BY}")
    observed = model.rvs_to_values.get(model[OBSERVED])
    data = getattr(observed, "data", None)
    if data is None or not np.array_equal(np.asarray(data), made.seen):
        raise StudyError(
            f"The observed '{OBSERVED}' of this model were replaced. Its likelihood rests on every "
            "look of the study, so that would change nothing. Change the sheets, or make the model "
            "of another study."
        )
    return made


def _of_study(mine: Exposure, theirs: Exposure) -> None:
    one, other = (list(e.foundings["founding"].astype(str)) for e in (mine, theirs))
    if one != other:
        apart = next(iter(sorted(set(one) ^ set(other))), "their order")
        raise StudyError(
            f"This model is of another study: it has {len(one)} foundings, the study compares "
            f"{len(other)}, and they differ in {apart}. {MADE_BY}"
        )
    same = all(
        np.array_equal(getattr(mine, name), getattr(theirs, name))
        for name in ("records", "rows", "nodes")
    )
    if not same or not mine.foundings["genus"].equals(theirs.foundings["genus"]):
        raise StudyError(
            "This model is of another study, or of an earlier state of this one: the same "
            f"foundings, but other looks at them. {MADE_BY}"
        )


class OwnSampler:
    """Samples a model; compiled when it is first sampled, and again for other priors.

    Parameters
    ----------
    model : FoundingModel
    """

    def __init__(self, model: FoundingModel) -> None:
        self._model = model
        self._compiled: dict[str, Any] = {}

    def _ready(self, priors: Priors) -> Any:
        key, made = priors.as_json(), self._model.about
        if key not in self._compiled:
            here = self._model
            if priors != made.priors:
                here = written_out(
                    made.design, made.exposure, priors,
                    history=made.history, adjust=made.adjust, change=made.change,
                )  # fmt: skip
            self._compiled[key] = nuts.compiled(here)
        return self._compiled[key]

    def __call__(
        self,
        design: ModelDesign,
        exposure: Exposure,
        priors: Priors,
        *,
        seed: int,
        draws: int | None = None,
        tune: int = TUNE,
        accept: float | None = None,
        chains: int = CHAINS,
        depth: int = DEPTH,
    ) -> Fit:
        """Draws of the model, see `cohort.model.sample.sample`.

        Raises
        ------
        StudyError
            Another design is asked for than that of the model.
        """
        made = self._model.about
        if design.foundings != made.design.foundings or design.variant != made.design.variant:
            raise StudyError("A model of one's own is of the foundings it was written for.")
        accept = accept or ACCEPT
        posterior, stats = nuts.sample_compiled(
            self._ready(priors), seed=seed, draws=draws or DRAWS, tune=tune, accept=accept,
            chains=chains, depth=depth,
        )  # fmt: skip
        return fit_of(made, posterior, stats, priors, seed, accept)


def fit_of(
    made: About,
    posterior: xr.Dataset,
    stats: xr.Dataset,
    priors: Priors,
    seed: int,
    accept: float = math.nan,
) -> Fit:
    """Draws of a model as a `Fit`: variables under their own names apart from coordinates."""
    posterior = posterior.transpose("chain", "draw", ...)
    inner = [
        str(name)
        for name in posterior.data_vars
        if name not in made.own and str(name).endswith((SIGNED, COORDINATE))
    ]
    named = posterior.drop_vars([*inner, *([MOVED] if MOVED in posterior else [])])
    gone = [dim for dim in ("effect", "contrast", "moved") if dim in named.coords]
    return Fit(
        named.drop_vars(gone),
        stats,
        made.design,
        made.exposure,
        priors,
        seed,
        accept,
        own=made.own,
        moved=posterior.get(MOVED),
        coordinates=posterior[inner],
    )
