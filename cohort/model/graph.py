"""The founding model in PyMC: to read, to sample otherwise, to extend.

Comes in: a study or a history, priors, and what somebody wants changed. Goes out: a
`FoundingModel`, which is a `pymc.Model` with the looks at each founding as its observed variable.
Never: what `cohort compare` samples by default (`likelihood.density` is the same model, quicker,
nothing to compile; a test holds both together).

Priors, dims and names come from the table of parameters (`cohort.model.parameters`), the columns
the likelihood takes from `cohort.likelihood.by_founding`. The coordinates that are sampled are
those of the compiled density (`cohort.likelihood.density`): an SD with a sign (``..._signed``), and
in place of a standard normal that an SD multiplies its partly non-centred coordinate
(``..._coordinate``). Each of these has a prior that can be drawn from, so that draws of the priors
run forward. Everything else bears the name it has in a posterior.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import numpy.typing as npt
import pymc as pm
import pytensor.tensor as pt

from cohort.base.errors import StudyError
from cohort.history import History
from cohort.history.warmed import as_compared
from cohort.likelihood import layout as at
from cohort.likelihood.by_founding import LIVED
from cohort.likelihood.exposure import Exposure
from cohort.likelihood.genera import moves_of, pooling_of
from cohort.likelihood.packing import AMOUNT, STEPS
from cohort.model.design import ModelDesign
from cohort.model.families import Beta, CutNormal, HalfNormal, LogNormal, Normal, Prior
from cohort.model.log_posterior import (
    MOVES,
    PHASES,
    LogPosterior,
    limits,
    log_posterior,
    named_dims,
    packed_study,
)
from cohort.model.looks_of_founding import TALLIES, in_tallies, replicated
from cohort.model.op import average_loglik, founding_loglik
from cohort.model.parameters import BY_FOUNDING, BY_GENUS, COMMON, EFFECTS, Parameter
from cohort.model.parts import PIECES, Parts
from cohort.model.priors import Priors
from cohort.model.replicated import calendar
from cohort.model.sample import prepare
from cohort.study import Study
from cohort.terms.adjusting import Adjust
from cohort.terms.levels import AFTER, BEFORE, FIRST_WORKER, MATED

Floats = npt.NDArray[np.float64]
Change = Callable[[Parts], None]
"""A function that puts other tensors in the place of some `Parts`, inside the model."""
OBSERVED: Final = "looks"
"""Name of the observed variable."""
SIGNED: Final = "_signed"
COORDINATE: Final = "_coordinate"
MOVED: Final = "moved_by_own"
"""What one's own effects move: the difference they make to columns of `LIVED`, by founding."""
SURE: Final = 40.0
"""Logit of a chance that is as good as 1: every queen is mated, in one variant."""


@dataclass(frozen=True)
class About:
    """What a `FoundingModel` was made of.

    Attributes
    ----------
    history : History or None
    design : ModelDesign
    exposure : Exposure
    priors : Priors
    change : callable or None
    own : tuple of str
        Names of one's own variables.
    moves : tuple of str
        Parts that were assigned to.
    average_frailty : bool
    seen : float array, shape (foundings, len(TALLIES))
        What was observed.
    """

    history: History | None
    design: ModelDesign
    exposure: Exposure
    priors: Priors
    change: Change | None
    own: tuple[str, ...]
    moves: tuple[str, ...]
    average_frailty: bool
    seen: Floats


class FoundingModel(pm.Model):
    """A `pymc.Model` of foundings; ``about`` says what it was made of."""

    about: About


def _normal(name: str, prior: Prior, design: ModelDesign, dims: tuple[str, ...]) -> Any:
    """A prior of the table as PyMC has it; of an SD that with a sign, and the SD beside it."""
    along = dims or None
    match prior:
        case HalfNormal(scale):
            signed = pm.Normal(name + SIGNED, 0.0, scale, dims=along)
            pm.Deterministic(name, pt.abs(signed), dims=along)
            return signed
        case Beta(a, b):
            return pm.Beta(name, a, b, dims=along)
        case LogNormal(mean, sd):
            return pm.LogNormal(name, mean, sd, dims=along)
        case CutNormal(mean, sd):
            low, high = limits(design)
            return pm.TruncatedNormal(name, mean, sd, lower=low, upper=high)
        case Normal(mean, sd):
            return pm.Normal(name, mean, sd, dims=along)
    raise AssertionError(f"{name}: {prior} is no prior of the table")


@dataclass(frozen=True)
class _Written:
    """What the parts of a founding are made of, while a model is written."""

    design: ModelDesign
    priors: Priors
    target: LogPosterior
    common: Mapping[str, Any]
    """By name; SDs with their sign."""

    def behind(self, name: str, sd: Any, place: slice, dims: tuple[str, ...]) -> Any:
        """The standard normal that an SD multiplies, through its coordinate."""
        information, score = self.target.information[place], self.target.score[place]
        return _standard_normal(name, sd, information, score, dims)


def _standard_normal(
    name: str, sd: Any, information: Floats, score: Floats, dims: tuple[str, ...]
) -> Any:
    """See `cohort.likelihood.noncentred`: given the SD the coordinate is normal under the prior."""
    grown = 1.0 + sd**2 * information
    mean, spread = -sd * score / pt.sqrt(grown), pt.sqrt(grown)
    return (pm.Normal(name + COORDINATE, mean, spread, dims=dims) - mean) / spread


def _common(priors: Priors, design: ModelDesign) -> dict[str, Any]:
    """Every parameter that genera share and that enters, by name; SDs with their sign."""
    return {
        row.name: _normal(row.name, priors[row.name], design, row.dims)
        for row in COMMON
        if row.prior is not None and row.enters(design)
    }


def _genus_effects(w: _Written) -> dict[str, Any]:
    """Effects by genus, each of shape (genera,); see `cohort.likelihood.genera`."""
    design, target = w.design, w.target
    genera = len(design.genera)
    columns, share = pooling_of.py_func(target.packed)
    sds, apart = {}, {}
    for row in BY_GENUS:
        sd = _normal(f"{row.name}_sd", HalfNormal(w.priors[row.name].between), design, ())
        pooled = row.name == "last_fight" and design.pooled_fight
        sds[row.name] = 0.0 * sd if pooled else sd
    if genera > 1:
        every = pt.stack([sds[name] for name in EFFECTS])[:, None]
        place = slice(target.where[EFFECTS[0]].start, target.where[EFFECTS[-1]].stop)
        told, pull = (
            a[place].reshape(len(EFFECTS), -1) for a in (target.information, target.score)
        )
        normal = _standard_normal("contrasts", every, told, pull, ("effect", "contrast"))
        off = every * (columns * normal[:, None, :]).sum(axis=2)
        apart = {name: off[e] for e, name in enumerate(EFFECTS)}
    amounts = {
        to: (source, float(row[AMOUNT]))
        for (to, source), row in zip(MOVES, moves_of.py_func(target.packed), strict=True)
    }
    along: dict[str, Any] = dict(w.common)  # coordinates of means, before they are moved
    means: dict[str, Any] = {}

    def mean_of(name: str) -> None:
        at_mean = f"{name}_mean"
        if at_mean in along:
            return
        prior, moved = w.priors[name], 0.0
        source, amount = amounts.get(at_mean, ("", 0.0))
        if source:
            if source not in along:
                mean_of(source.removesuffix("_mean"))
            moved = amount * along[source]
        if genera > 1:
            moved = moved + (share[EFFECTS.index(name)] * apart[name]).sum()
        wide = pt.sqrt(prior.sd**2 + sds[name] ** 2 / genera)
        along[at_mean] = pm.Normal(at_mean + COORDINATE, prior.mean + moved, wide)
        means[name] = pm.Deterministic(at_mean, along[at_mean] - moved)

    out = {}
    for name in EFFECTS:
        mean_of(name)
        value = means[name] + (apart[name] if genera > 1 else pt.zeros(1))
        out[name] = pm.Deterministic(name, value, dims="genus")
    return out


def _added(w: _Written) -> dict[str, Any]:
    """What levels, covariates and warmth add to each part, by part; nothing where none does."""
    out: dict[str, Any] = {}

    def add(part: str, more: Any) -> None:
        out[part] = out[part] + more if part in out else more

    for row in BY_FOUNDING:
        if not row.part or not row.enters(w.design):
            continue
        if row.of:
            sd = w.common[row.sd]
            normal = w.behind(row.name, sd, w.target.where[row.name], row.dims)
            effect = pm.Deterministic(row.name, sd * normal, dims=row.dims)
            add(row.part, effect[w.design.levels[row.of].index])
        else:
            slope = _normal(row.name, w.priors[row.name], w.design, row.dims)
            add(row.part, pt.dot(w.design.x[:, w.design.adjusted(row.part)], slope))
    if w.design.warm.any():
        add(FIRST_WORKER, w.common["warm_days"] * w.design.warm)
    return out


def _shared(w: _Written, name: str) -> Any:
    """A parameter all foundings share, or the value at which the variant holds it."""
    row: Parameter = next(row for row in COMMON if row.name == name)
    fixed_at = row.fixed_at(w.design.variant)
    if fixed_at is not None:
        return pt.as_tensor(float(fixed_at))
    return pt.as_tensor(w.common.get(name, 0.0))


def _paces(w: _Written) -> tuple[Any, Any]:
    """Log hazard of each piece over that of the level piece, before and with workers."""
    sd = w.common["walk_sd"][PHASES]
    normal = w.behind("walk", sd, w.target.where["walk"], ("step",))
    pm.Deterministic("walk", pt.sign(sd) * normal, dims="step")
    steps = np.concatenate([w.design.steps1, w.design.steps2])
    paces = pt.dot(steps, sd * normal)
    return paces[: at.N1], paces[at.N1 :]


def _frailty(w: _Written, average: bool) -> Any:
    """Standard normal of each founding, with the sign of its SD; nought where it is averaged out."""
    if average:
        return pt.zeros(len(w.design.foundings))
    sd = w.common["frailty_sd"]
    normal = w.behind("frailty", sd, w.target.where["frailty"], ("founding",))
    pm.Deterministic("frailty", pt.sign(sd) * normal, dims="founding")
    return pt.sign(sd) * normal


def _parts(w: _Written, average: bool) -> dict[str, Any]:
    """The parts of the predictor, as `cohort.likelihood.predictor` has them."""
    design = w.design
    effects = _genus_effects(w)
    own = {}
    for row in BY_GENUS:
        fixed_at = row.fixed_at(design.variant)
        whole = effects[row.name] if fixed_at is None else pt.full(len(design.genera), fixed_at)
        own[row.name] = whole[design.genus]
    added, multi, doublings = _added(w), design.multi, design.doublings
    ratio = multi * (own["together"] + _shared(w, "size_step") * doublings)
    lasting = float(design.variant == "lasting")
    lone = own["founding_hazard"] + added.get(BEFORE, 0.0)
    mated = _shared(w, "mated")
    fixed_at = next(row for row in COMMON if row.name == "mated").fixed_at(design.variant)
    logit = pt.as_tensor(SURE) if fixed_at == 1.0 else pt.log(mated) - pt.log1p(-mated)
    pace_before, pace_after = _paces(w)
    return {
        "founding_hazard": lone + lasting * ratio if lasting else lone,
        "together": pt.zeros(len(design.foundings)) if lasting else ratio,
        "pace_before": pace_before,
        "worker_hazard": own["worker_hazard"] + added.get(AFTER, 0.0),
        "rivalry": own["rivalry"] + _shared(w, "size_step_rivalry") * doublings,
        "pace_after": pace_after,
        "last_fight": own["last_fight"],
        "first_worker": own["first_worker"]
        + multi * _shared(w, "multi_days")
        + added.get(FIRST_WORKER, 0.0),
        "within_days": _shared(w, "within_days"),
        "mated": logit + added[MATED] if MATED in added else logit,
        "seen": _shared(w, "seen"),
        "frailty": _frailty(w, average),
        "frailty_sd": pt.abs(_shared(w, "frailty_sd")),
        "loading": _shared(w, "loading"),
        "warm_threshold": _shared(w, "warm_threshold"),
    }


def _columns(parts: Mapping[str, Any], design: ModelDesign) -> dict[int, Any]:
    """The columns of `LIVED`, each a number or one for every founding."""
    seen = design.seen
    unmated = (design.size - seen) * pt.softplus(parts["mated"])  # minus the log of the chance
    if seen.any():
        unmated = unmated + seen * pt.softplus(parts["mated"] + parts["seen"])
    out = {
        at.HAZARD1: parts["founding_hazard"],
        at.TOGETHER: parts["together"],
        at.HAZARD2: parts["worker_hazard"],
        at.RIVALRY: parts["rivalry"],
        at.LAST_FIGHT: pt.sigmoid(parts["last_fight"]),
        at.LOG_DAY: parts["first_worker"],
        at.FERTILE: -pt.expm1(-unmated),
        at.FRAILTY: parts["frailty"],
        at.THRESHOLD: parts["warm_threshold"],
    }
    for name, first in (("pace_before", at.STEPS1), ("pace_after", at.STEPS2)):
        for j in range(PIECES[name]):
            out[at.FOUNDING_WIDTH + first + j] = parts[name][..., j]
    out[at.FOUNDING_WIDTH + at.WITHIN_DAYS] = parts["within_days"]
    out[at.FOUNDING_WIDTH + at.SIGMA] = parts["frailty_sd"]
    out[at.FOUNDING_WIDTH + at.LOADING] = parts["loading"]
    return out


def _by_founding(column: Any, foundings: int) -> Any:
    column = pt.as_tensor(column)
    return pt.alloc(column, foundings) if column.type.ndim == 0 else column


_FEEDS: Final = {
    "founding_hazard": (at.HAZARD1,),
    "together": (at.TOGETHER,),
    "worker_hazard": (at.HAZARD2,),
    "rivalry": (at.RIVALRY,),
    "last_fight": (at.LAST_FIGHT,),
    "first_worker": (at.LOG_DAY,),
    "mated": (at.FERTILE,),
    "seen": (at.FERTILE,),
    "warm_threshold": (at.THRESHOLD,),
    "pace_before": tuple(at.FOUNDING_WIDTH + at.STEPS1 + j for j in range(at.N1)),
    "pace_after": tuple(at.FOUNDING_WIDTH + at.STEPS2 + j for j in range(at.N2)),
    "within_days": (at.FOUNDING_WIDTH + at.WITHIN_DAYS,),
    "frailty_sd": (at.FOUNDING_WIDTH + at.SIGMA,),
    "loading": (at.FOUNDING_WIDTH + at.LOADING,),
}
"""Columns of `LIVED` that a part is read in; the frailty of new foundings is drawn anew."""


def _changed(change: Change, parts: dict[str, Any], w: _Written, exposure: Exposure) -> Parts:
    """The parts after somebody's change.

    Raises
    ------
    StudyError
        The change hands something back, or puts nothing in the place of any part.
    """
    mine = Parts(parts, exposure.foundings)
    back = change(mine)
    if back is not None and back is not mine:
        raise StudyError(
            "change is to alter the parts it is given, and to hand nothing back: write "
            "parts['first_worker'] += slope * x inside it."
        )
    if not mine.touched:
        raise StudyError(
            "change moved nothing: it must put another tensor in the place of a part, as "
            "parts['first_worker'] += slope * x does."
        )
    return mine


def written_out(
    design: ModelDesign,
    exposure: Exposure,
    priors: Priors,
    *,
    history: History | None = None,
    change: Change | None = None,
    average_frailty: bool = False,
) -> FoundingModel:
    """The PyMC model of a design.

    Parameters
    ----------
    design : ModelDesign
    exposure : Exposure
        Packed tables of the same foundings.
    priors : Priors
    history : History, optional
        Of the same foundings. Without it nothing can be replicated, and what was observed is left
        at nought; the likelihood is the same.
    change : callable, optional
    average_frailty : bool
        See `founding_model`.
    """
    target = log_posterior(design, exposure, priors)
    count = len(design.foundings)
    coords: dict[str, Any] = {
        "genus": list(design.genera),
        "effect": list(EFFECTS),
        "contrast": list(range(len(design.genera) - 1)),
        "step": list(range(STEPS)),
        "phase": ["before", "after"],
        "tally": list(TALLIES),
    }
    coords |= named_dims(design)
    plan, seen = None, np.zeros((count, len(TALLIES)))
    if history is not None:
        plan, shown = calendar(history)
        seen = in_tallies(plan, shown)[0]
    study = packed_study(design, exposure)
    node = average_loglik if average_frailty else founding_loglik

    def logp(value: Any, lived: Any) -> Any:
        return node(lived, study)[0]

    def random(lived: Floats, rng: Any = None, size: Any = None) -> Floats:
        if plan is None:
            raise StudyError("This model was made without a history: it cannot replicate a study.")
        return _replicates(lived, rng, size, plan)

    with FoundingModel(coords=coords) as model:
        w = _Written(design, priors, target, _common(priors, design))
        parts: Mapping[str, Any] = _parts(w, average_frailty)
        plain, ours = dict(parts), set(model.named_vars)
        moves: tuple[str, ...] = ()
        if change is not None:
            mine = _changed(change, plain, w, exposure)
            parts, moves = mine, tuple(mine.touched)
        own = tuple(name for name in model.named_vars if name not in ours)
        columns = {
            j: _by_founding(c, count) for j, c in sorted(_columns(parts, design).items())
        }
        fed = sorted({j for name in moves for j in _FEEDS.get(name, ())})
        if fed:
            before = _columns(plain, design)
            moved = pt.stack([columns[j] - before[j] for j in fed], axis=1)
            model.add_coord("moved", fed)
            pm.Deterministic(MOVED, moved, dims=("founding", "moved"))
        pm.CustomDist(
            OBSERVED,
            pt.stack([columns[j] for j in range(LIVED)], axis=1),
            logp=logp,
            random=random,
            signature=f"(w)->({len(TALLIES)})",
            observed=seen,
            dims=("founding", "tally"),
        )
    model.about = About(
        history, design, exposure, priors, change, own, moves, average_frailty, seen
    )
    return model


def _replicates(lived: Floats, rng: Any, size: Any, plan: Any) -> Floats:
    """Replicated looks; PyMC may ask for several draws at once."""
    shape = lived.shape[:-1] if size is None else tuple(np.atleast_1d(size))
    whole = np.broadcast_to(lived, (*shape, lived.shape[-1]))
    out = replicated(whole.reshape(-1, *whole.shape[-2:]), plan, rng)
    return out.reshape(*shape, len(TALLIES))


def founding_model(
    study: Study | History,
    *,
    priors: Priors | None = None,
    adjust: Adjust | Iterable[str] | None = None,
    change: Change | None = None,
    average_frailty: bool = False,
) -> FoundingModel:
    """The founding model of a study as a PyMC model: the very one that `cohort.compare` fits.

    Parameters
    ----------
    study : Study or History
        Of a study the history that is compared, warmth included.
    priors : Priors, optional
        By default those of the table; ``cohort.Priors().but(together={"sd": 2.0})`` for others.
    adjust : Adjust or iterable of str, optional
        Columns to adjust for, by what they may move; a plain list moves the survival before and
        with workers. Left out, what the settings of the study say; of a history nothing.
    change : callable, optional
        Called inside the model with its `cohort.model.parts.Parts`, tensors by founding under the
        names they have in a posterior; what it puts in their place is what foundings live by. The
        compared foundings, in the order of the tensors, are ``parts.foundings``.
    average_frailty : bool
        Averaged over the frailty, by the same integral as in `cohort.model.pointwise`: for leaving
        out foundings by draws that are there already, as in
        ``pm.compute_log_likelihood(trace, model=...)``. It cannot be sampled.

    Returns
    -------
    FoundingModel
        A `pymc.Model`. Hazards are logs per queen and day, times logs of days. The observed variable
        is ``looks``, dims ``founding`` and ``tally`` (`cohort.model.looks_of_founding.TALLIES`).
        Its likelihood rests on every look, not on these five numbers: they show what was seen, and
        other numbers in their place would change nothing.

    Raises
    ------
    StudyError
        Nothing to compare, a covariate that cannot enter, or a change that names no part, or puts
        a tensor of another shape in the place of one.

    Notes
    -----
    What is said of *new* foundings (`cohort.compare`) is said at the values the parts have without
    the change: of a covariate x, at x = 0. Centre it, and that is an average founding.

    Examples
    --------
    An effect of the altitude at which queens were caught, on the day of the first worker::

        def altitude(parts):
            x = parts.foundings["founding"].map(metres)
            slope = pm.Normal("altitude", 0, 0.2)
            parts["first_worker"] += slope * ((x - x.mean()) / 100).to_numpy()

        made = cohort.compare(study, model=cohort.founding_model(study, change=altitude))
    """
    past, agreed = as_compared(study, adjust)
    design, exposure = prepare(past, adjust=agreed)
    if isinstance(study, Study) and not study.settings.show_keepers:
        design = design.numbered("keeper")  # as in a comparison, whose files then name none
    return written_out(
        design,
        exposure,
        priors or Priors(),
        history=past,
        change=change,
        average_frailty=average_frailty,
    )
