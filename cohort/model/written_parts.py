"""The parts of the predictor in PyMC, from the table of parameters.

Comes in: a design, priors, and the posterior they make (for its coordinates). Goes out: a tensor
for each of `cohort.model.parts.PARTS`, and the named variables they are made of, put into the model
that is open. Never: a likelihood, an effect of one's own.

The coordinates that are sampled are those of the compiled density (`cohort.likelihood.density`): an
SD with a sign (``..._signed``), and in place of a standard normal that an SD multiplies its partly
non-centred coordinate (``..._coordinate``). Each of these has a prior that can be drawn from, so
that draws of the priors run forward. Everything else bears the name it has in a posterior.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import numpy.typing as npt
import pymc as pm
import pytensor.tensor as pt
from pymc.logprob.transforms import Transform

from cohort.likelihood import layout as at
from cohort.likelihood.genera import moves_of, pooling_of
from cohort.likelihood.machine_code import beneath
from cohort.likelihood.packing import AMOUNT, EFFECT, SOURCE
from cohort.model.coordinates import MEAN_OF, MOVES
from cohort.model.design import ModelDesign
from cohort.model.families import Beta, CutNormal, HalfNormal, LogNormal, Normal, Prior
from cohort.model.log_posterior import LogPosterior
from cohort.model.parameters import BY_FOUNDING, BY_GENUS, COMMON, EFFECTS, Parameter
from cohort.model.places import PHASES, limits
from cohort.model.priors import Priors
from cohort.terms.levels import AFTER, BEFORE, FIRST_WORKER, MATED

Floats = npt.NDArray[np.float64]
SIGNED: Final = "_signed"
COORDINATE: Final = "_coordinate"
SURE: Final = 800.0
"""Logit of the chance 1, at which every queen is mated in one variant: its exponential is beyond
any number, so that neither the chance of the contrary nor a slope is left."""


class Stretch(Transform):  # type: ignore[misc]  # untyped
    """Walks an SD with a sign as u, SD = sinh(rate u) / rate; see `cohort.model.coordinates`."""

    name = "stretch"

    def __init__(self, rate: float) -> None:
        self.rate = rate

    def forward(self, value: Any, *_: Any) -> Any:
        """From the SD to u."""
        return pt.arcsinh(self.rate * value) / self.rate

    def backward(self, value: Any, *_: Any) -> Any:
        """From u to the SD."""
        return pt.sinh(self.rate * value) / self.rate

    def log_jac_det(self, value: Any, *_: Any) -> Any:
        """Log of the derivative of the SD in u."""
        return pt.log(pt.cosh(self.rate * value))


def _normal(
    name: str, prior: Prior, design: ModelDesign, dims: tuple[str, ...], rate: float = 0.0
) -> Any:
    """A prior of the table as PyMC has it; of an SD that with a sign, and the SD beside it."""
    along = dims or None
    match prior:
        case HalfNormal(scale):
            how = {"default_transform": Stretch(rate)} if rate else {}
            signed = pm.Normal(name + SIGNED, 0.0, scale, dims=along, **how)
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
        """The standard normal that an SD multiplies, through its coordinate, turned if it is."""
        information, score = self.target.information[place], self.target.score[place]
        normal, turn = _standard_normal(name, sd, information, score, dims), self.target.turn(name)
        return normal if turn is None else pt.dot(turn, normal)


def _standard_normal(
    name: str, sd: Any, information: Floats, score: Floats, dims: tuple[str, ...]
) -> Any:
    """See `cohort.likelihood.noncentred`: given the SD the coordinate is normal under the prior."""
    grown = 1.0 + sd**2 * information
    mean, spread = -sd * score / pt.sqrt(grown), pt.sqrt(grown)
    return (pm.Normal(name + COORDINATE, mean, spread, dims=dims) - mean) / spread


def _common(priors: Priors, design: ModelDesign, target: LogPosterior) -> dict[str, Any]:
    """Every parameter that genera share and that enters, by name; SDs with their sign."""
    return {
        row.name: _normal(row.name, priors[row.name], design, row.dims, target.rate(row.name))
        for row in COMMON
        if row.prior is not None and row.enters(design)
    }


def _level_effects(w: _Written) -> dict[str, Any]:
    """Effects of the levels of a founding, by name."""
    out = {}
    for row in BY_FOUNDING:
        if row.of and row.enters(w.design):
            sd = w.common[row.sd]
            normal = w.behind(row.name, sd, w.target.where[row.name], row.dims)
            out[row.name] = pm.Deterministic(row.name, sd * normal, dims=row.dims)
    return out


def _moved_by_levels(w: _Written, levels: Mapping[str, Any]) -> dict[str, Any]:
    """What levels add to the coordinate of each mean they shift; see `cohort.model.coordinates`."""
    table = beneath(moves_of)(w.target.packed)
    out: dict[str, Any] = {}
    for row in BY_FOUNDING:
        place = w.target.where[row.name]
        own = table[(table[:, EFFECT] > 0) & (table[:, SOURCE] >= place.start)]
        own = own[own[:, SOURCE] < place.stop]
        if row.name in levels and len(own):
            mean = MEAN_OF[row.part]
            out[mean] = out.get(mean, 0.0) + pt.dot(own[:, AMOUNT], levels[row.name])
    return out


def _genus_effects(w: _Written, levels: Mapping[str, Any]) -> dict[str, Any]:
    """Effects by genus, each of shape (genera,); see `cohort.likelihood.genera`."""
    design, target = w.design, w.target
    genera = len(design.genera)
    columns, share = beneath(pooling_of)(target.packed)
    sds, apart = {}, {}
    for row in BY_GENUS:
        name, spread = f"{row.name}_sd", HalfNormal(w.priors[row.name].between)
        sd = _normal(name, spread, design, (), target.rate(name))
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
        for (to, source), row in zip(MOVES, beneath(moves_of)(target.packed), strict=False)
    }
    by_levels = _moved_by_levels(w, levels)
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
        moved = moved + by_levels.get(at_mean, 0.0)
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


def _added(w: _Written, levels: Mapping[str, Any]) -> dict[str, Any]:
    """What levels, covariates and warmth add to each part, by part; nothing where none does."""
    out: dict[str, Any] = {}

    def add(part: str, more: Any) -> None:
        out[part] = out[part] + more if part in out else more

    for row in BY_FOUNDING:
        if not row.part or not row.enters(w.design):
            continue
        if row.of:
            add(row.part, levels[row.name][w.design.levels[row.of].index])
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
    """Standard normal of each founding, with the sign of its SD; 0 where it is averaged out."""
    if average:
        return pt.zeros(len(w.design.foundings))
    sd = w.common["frailty_sd"]
    normal = w.behind("frailty", sd, w.target.where["frailty"], ("founding",))
    pm.Deterministic("frailty", pt.sign(sd) * normal, dims="founding")
    return pt.sign(sd) * normal


def written_parts(
    design: ModelDesign, priors: Priors, target: LogPosterior, *, average_frailty: bool
) -> dict[str, Any]:
    """The parts of the predictor, as `cohort.likelihood.predictor` has them, in the open model.

    Parameters
    ----------
    design : ModelDesign
    priors : Priors
    target : LogPosterior
        Of the same design and priors.
    average_frailty : bool
        Leave the frailty at nought, for a likelihood that averages over it.
    """
    w = _Written(design, priors, target, _common(priors, design, target))
    levels = _level_effects(w)
    effects = _genus_effects(w, levels)
    own = {}
    for row in BY_GENUS:
        fixed_at = row.fixed_at(design.variant)
        whole = effects[row.name] if fixed_at is None else pt.full(len(design.genera), fixed_at)
        own[row.name] = whole[design.genus_code]
    added, multi, doublings = _added(w, levels), design.multi, design.doublings
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
        "frailty": _frailty(w, average_frailty),
        "frailty_sd": pt.abs(_shared(w, "frailty_sd")),
        "loading": _shared(w, "loading"),
        "winter": _shared(w, "winter"),
        "winter_company": _shared(w, "winter_company"),
        "warm_threshold": _shared(w, "warm_threshold"),
    }
