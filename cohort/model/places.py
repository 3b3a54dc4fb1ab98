"""Where each parameter lies in the vector that is sampled, and the table that says so.

Comes in: a `ModelDesign`, `Priors` and `Coordinates`. Goes out: places by name, and the rows the
compiled code reads (`cohort.likelihood.packing`). Never: data.

All of it is made from `cohort.model.parameters`.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Final

import numpy as np
import numpy.typing as npt

from cohort.likelihood import packing as at
from cohort.model.coordinates import Coordinates
from cohort.model.design import ModelDesign
from cohort.model.families import CutNormal, HalfNormal
from cohort.model.parameters import BY_FOUNDING, BY_GENUS, COMMON, EFFECTS, Parameter
from cohort.model.priors import Priors
from cohort.warmth import thresholds

Floats = npt.NDArray[np.float64]
Where = Mapping[str, slice]
UNSEEN: Final = 20.0
"""Degrees Celsius that stand for the mean of logged shelves where none is: never read."""
PHASES: Final = np.repeat([0, 1], [at.STEPS1, at.STEPS - at.STEPS1])
"""Phase of each step of the random walks."""


def places(design: ModelDesign) -> Where:
    """Where each parameter lies in the vector that is sampled.

    The same for every study up to the contrasts between genera (``<effect>``) and winter: what a
    study does not speak of (warmth, SDs of keepers) stays there at its prior and is never named.
    Only what `leaves` has no place in a study that knows nothing of it.

    Returns
    -------
    dict of slice
        By name; effects of genera as ``<effect>``, ``<effect>_mean`` and ``<effect>_sd``.
    """
    widths = {row.name: 1 for row in placed(design)}
    widths |= {"walk_sd": 2, "walk": at.STEPS}
    widths |= {f"{name}_sd": 1 for name in EFFECTS} | {f"{name}_mean": 1 for name in EFFECTS}
    widths |= dict.fromkeys(EFFECTS, len(design.genera) - 1)
    widths |= {row.name: len(_named_along(row, design)) for row in BY_FOUNDING}
    ends = np.cumsum(list(widths.values()))
    return {
        name: slice(int(end) - width, int(end))
        for (name, width), end in zip(widths.items(), ends, strict=True)
    }


def placed(design: ModelDesign) -> tuple[Parameter, ...]:
    """Parameters that genera share, those left out that have no place in a study like this."""
    return tuple(row for row in COMMON if row.enters(design) or not row.leaves)


def _named_along(row: Parameter, design: ModelDesign) -> tuple[str, ...]:
    """Names along the dim of a parameter of `BY_FOUNDING`: foundings, levels or covariates."""
    if row.of:
        return design.levels[row.of].names if row.of in design.levels else ()
    if row.part:
        return tuple(design.covariates[i] for i in design.adjusted(row.part))
    return design.foundings


def family_of(row: Parameter) -> int:
    """Family of a row that an SD multiplies: levels are sampled as effects, the rest as normals."""
    return at.LEVEL if row.of else at.MULTIPLIED


def _simple(row: Parameter, name: str, prior: Any, where: Where, design: ModelDesign) -> Floats:
    out = np.zeros(at.ROW)
    out[[at.SD, at.MEAN, at.TURN]] = -1.0
    out[at.ACTIVE], out[at.SHARED] = 1.0, row.shared
    out[at.FAMILY], out[at.A], out[at.B] = prior.family, prior.a, prior.b
    out[at.FIRST], out[at.LENGTH] = _span(where[name])
    fixed_at = row.fixed_at(design.variant)
    out[at.FIXED], out[at.VALUE] = fixed_at is not None, fixed_at or 0.0
    if isinstance(prior, CutNormal):
        out[at.LOW], out[at.HIGH] = limits(design)
    return out


def _span(where: slice) -> tuple[int, int]:
    return where.start, where.stop - where.start


def _multiplied(row: Parameter, where: Where) -> list[Floats]:
    """A row for each SD: the steps of the two random walks have one each."""
    first, length = _span(where[row.name])
    sds = range(where[row.sd].start, where[row.sd].stop)
    parts = [length] if len(sds) == 1 else [at.STEPS1, length - at.STEPS1]
    out = []
    for sd, part in zip(sds, parts, strict=True):
        one = np.zeros(at.ROW)
        one[[at.MEAN, at.SHARED, at.TURN]] = -1.0
        one[at.FAMILY], one[at.ACTIVE], one[at.SD] = family_of(row), 1.0, sd
        one[at.FIRST], one[at.LENGTH] = first, part
        first += part
        out.append(one)
    return out


def table(
    priors: Priors, where: Where, design: ModelDesign, chosen: Coordinates
) -> tuple[Floats, int, int, int]:
    """The table of parameters as the compiled code reads it, and where its parts begin.

    Returns
    -------
    float array, shape (rows, ROW), and three row numbers
        First row of the effects of genera, of what an SD multiplies, of the coefficients of
        covariates.
    """
    simple = [_simple(r, r.name, priors[r.name], where, design) for r in placed(design) if r.prior]
    genus = []
    for row in BY_GENUS:
        prior, sd = priors[row.name], f"{row.name}_sd"
        spread = HalfNormal(prior.between)
        simple.append(_simple(Parameter(sd, spread), sd, spread, where, design))
        one = _simple(row, row.name, prior, where, design)
        one[at.SD], one[at.MEAN] = where[sd].start, where[f"{row.name}_mean"].start
        one[at.ACTIVE] = not (row.name == "last_fight" and design.pooled_fight)
        genus.append(one)
    for one in simple:
        for name, rate in chosen.rates.items():
            if one[at.FIRST] == where[name].start:
                one[at.FAMILY], one[at.RATE] = at.STRETCHED, rate
    # the rows whose coordinate is a logit come last, so that sums keep their order
    simple.sort(key=lambda one: max(one[at.FAMILY], at.LOG_NORMAL))
    every = (*COMMON, *BY_FOUNDING)
    multiplied = [one for row in every if row.prior is None for one in _multiplied(row, where)]
    slopes = [_simple(r, r.name, priors[r.name], where, design) for r in BY_FOUNDING if r.prior]
    rows = np.stack([*simple, *genus, *multiplied, *slopes])
    first = len(simple)
    return rows, first, first + len(genus), len(rows) - len(slopes)


def limits(design: ModelDesign) -> tuple[float, float]:
    """Lowest and highest threshold of the degree-days."""
    return thresholds(design.reference if design.logged.any() else UNSEEN)


def named_dims(design: ModelDesign) -> dict[str, list[str]]:
    """Foundings, levels and covariates by the dim along which their parameters lie."""
    named = {row.dims[0]: list(_named_along(row, design)) for row in BY_FOUNDING}
    return {dim: names for dim, names in named.items() if names or dim == "founding"}
