"""Open foundings as the kernels want them, and how much each draw counts for each.

Comes in: the history of open foundings and a `Basis`. Goes out: parameters by draw and founding,
the state at the last look, and weights of draws and frailties given what was seen. Never: a day
of the calendar, a word.

Each founding's own looks weigh the frailty inside every draw. They weigh the draws too, unless
the draws stand on this very founding already (the results of the same study); the other
foundings of a new season do not, for which the study is to be compared again. What its keeper,
flight, season and covariates add to a founding counts where it is among those behind the draws;
others are taken as average there, and what is peculiar to them comes in through the frailty.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
import numpy.typing as npt
import pandas as pd
from scipy.special import logsumexp

from cohort.history import History
from cohort.history.winters import WinterRest
from cohort.likelihood import layout as at
from cohort.likelihood.exposure import Exposure, packed
from cohort.likelihood.predictor import parameters_by_founding
from cohort.outcomes.basis import Basis
from cohort.predict import conditional

Floats = npt.NDArray[np.float64]
FRAILTIES: Final = 7
MOST: Final = 300
LEAST: Final = 60
WORK: Final = 20_000
"""Draws times foundings that are worked through: large studies take fewer draws."""


@dataclass(frozen=True)
class Conditional:
    """Foundings, draws, and what was seen.

    Attributes
    ----------
    foundings : DataFrame
        One row per founding, in the order of every array.
    pars : float array, shape (draws, foundings, FOUNDING_WIDTH)
    shareds : float array, shape (draws, SHARED_WIDTH)
    packed : Exposure
    state : float array, shape (foundings, STATE_WIDTH)
    z : float array
        Frailties.
    omega : float array, shape (foundings, draws, z)
        Weights given what was seen; sum to 1 per founding.
    """

    foundings: pd.DataFrame
    pars: Floats
    shareds: Floats
    packed: Exposure
    state: Floats
    z: Floats
    omega: Floats


def _state(frame: pd.DataFrame, winters: Mapping[str, WinterRest]) -> Floats:
    """What is known at the last look, in warm days; see `cohort.predict.conditional`."""
    out = np.zeros((len(frame), conditional.STATE_WIDTH))
    out[:, conditional.LOOKED] = frame["looked_to"]
    out[:, conditional.COUNTED] = frame["end"]
    out[:, conditional.QUEENS] = frame["queens_end"]
    out[:, conditional.SEEN] = np.isfinite(frame["first_by"]) | frame["entry_workers"]
    for i, name in enumerate(frame["founding"].astype(str)):
        if name in winters:
            for j in (conditional.LOOKED, conditional.COUNTED):
                out[i, j] = winters[name].warm(float(out[i, j]))
    return out


def _weights(
    so_far: Floats, at_entry: Floats, log_w: Floats, draws_count: npt.NDArray[np.bool_]
) -> Floats:
    """Weights of draws and frailties; those of the draws equal where ``draws_count`` is False."""
    joint = so_far + log_w
    whole = logsumexp(joint, axis=2)
    entered = logsumexp(at_entry + log_w, axis=2)
    by_draw = np.where(draws_count[:, None], whole - entered, 0.0)
    by_draw = np.exp(by_draw - logsumexp(by_draw, axis=1, keepdims=True))
    out: Floats = by_draw[:, :, None] * np.exp(joint - whole[:, :, None])
    return out


def conditioned(
    past: History,
    foundings: pd.DataFrame,
    basis: Basis,
    *,
    same_study: bool,
    pace: Floats | None = None,
) -> Conditional:
    """Weigh draws and frailties by what was seen of each founding.

    Parameters
    ----------
    past : History
    foundings : DataFrame
        Rows of the history to forecast, with its index.
    basis : Basis
    same_study : bool
        The draws are of this very study, so that the foundings among them count already.
    pace : float array, shape (draws of the basis, foundings), optional
        Log of the warmed days per day so far, see `cohort.forecast.shelf_warmth`; the first
        worker comes so much sooner in plain days.
    """
    every = past.foundings.assign(compared=past.foundings.index.isin(foundings.index))
    pack = packed(replace(past, foundings=every))
    count = len(foundings)
    keep = int(np.clip(WORK // max(count, 1), LEAST, MOST))
    total = len(basis.draws.shared)
    pick = np.unique(np.linspace(0, total - 1, min(keep, total)).round().astype(int))
    params, shared = basis.draws.params[pick], basis.draws.shared[pick]
    genus = np.array([basis.genus(str(g)) for g in foundings["genus"]], dtype=np.int64)
    size = foundings["size"].to_numpy(np.int64)
    seen = np.minimum(foundings["mating_seen"].to_numpy(np.int64), size)
    added = np.zeros((len(pick), at.PARTS, count))
    if same_study:
        added += basis.added(list(foundings["founding"].astype(str)), pick)
    if pace is not None:
        added[:, at.P_FIRST_WORKER] -= pace[pick]
    pars = parameters_by_founding(params, shared, genus, size, seen, added)
    z, w = np.polynomial.hermite_e.hermegauss(FRAILTIES)
    so_far, at_entry = conditional.seen_so_far(pars, shared, pack.records, pack.rows, pack.nodes, z)
    known = foundings["founding"].isin(basis.foundings).to_numpy(dtype=bool) & same_study
    omega = _weights(so_far, at_entry, np.log(w / w.sum()), ~known)
    return Conditional(foundings, pars, shared, pack, _state(foundings, past.winters), z, omega)
