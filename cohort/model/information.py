"""How much a study tells of each effect: counts of losses, first workers and last fights.

Comes in: a `ModelDesign` and its `Exposure`. Goes out: `Information`. Never: a likelihood; these
numbers only choose coordinates for the sampler (see `cohort.likelihood.density`), and rough ones
do.

The information on a log hazard is the number of losses behind it; on a log day of the first
worker 1 / (spread^2 + bracket^2 / 12); on a logit the number of trials times p (1 - p).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from cohort.likelihood import layout as at
from cohort.likelihood.exposure import Exposure
from cohort.model.design import ModelDesign
from cohort.model.priors import EFFECTS
from cohort.terms.levels import AFTER, BEFORE, FIRST_WORKER, LEVELS

Floats = npt.NDArray[np.float64]
SPREAD: Final = 0.15
"""Taken for the SD of the log day of the first worker within a genus."""
FIGHT: Final = 0.15
"""p (1 - p) of the share of last fights that take both."""


@dataclass(frozen=True)
class Information:
    """Information on each effect.

    Attributes
    ----------
    genus : float array, shape (effects, genera)
    founding : float array, shape (foundings,)
    step : float array, shape (7,)
    levels : mapping of float arrays
        By name of the parameter and level (`cohort.terms.levels.Level.parameter`); of levels that
        are in the model.
    lean : float array, shape (5,)
        Doublings of the group at the mean loss in company before workers; share of the losses that
        fell in company, before and after the first worker; share of foundings by several queens;
        doublings at the mean loss in company with workers.
    """

    genus: Floats
    founding: Floats
    step: Floats
    levels: Mapping[str, Floats]
    lean: Floats


def losses(exposure: Exposure) -> Floats:
    """Queens lost by founding, phase, and whether others still lived.

    A loss that several days of the first worker explain differently counts in equal shares.

    Returns
    -------
    float array, shape (foundings, 2, 2)
        Before and after the first worker; alone and in company.
    """
    records, rows, nodes = exposure.records, exposure.rows, exposure.nodes
    out = np.zeros((len(exposure.foundings), 2, 2))

    def add(f: int, first: float, last: float, share: float) -> None:
        for row in rows[int(first) : int(last)]:
            if row[at.AFTER] == at.SOME or row[at.PHASE] < 0:
                continue  # queens were counted no more: no loss was seen; or told by a later row
            lost = row[at.BEFORE] - row[at.AFTER]
            phase = int(row[at.PHASE]) % at.LINK % at.COLD
            out[f, phase, int(row[at.BEFORE] >= 2)] += share * lost

    for f, record in enumerate(records[: len(out)]):
        own = nodes[int(record[at.NODES_FROM]) : int(record[at.NODES_TO])]
        share = 1.0 / max(len(own) + record[at.NONE], 1.0)
        add(f, record[at.BASE_FROM], record[at.BASE_TO], 1.0)
        add(f, record[at.NONE_FROM], record[at.NONE_TO], share)
        for node in own:
            add(f, node[at.ROWS_FROM], node[at.ROWS_TO], share)
            if node[at.LEAST] >= 0.0:
                lost = node[at.SPLIT_BEFORE] - node[at.SPLIT_AFTER]
                out[f, 1, int(node[at.SPLIT_BEFORE] >= 2)] += share * lost
    return out


def _first_workers(exposure: Exposure) -> Floats:
    """Information on the log day of the first worker, by founding."""
    out = np.zeros(len(exposure.foundings))
    for f, record in enumerate(exposure.records[: len(out)]):
        if record[at.NONE] or record[at.NODES_TO] <= record[at.NODES_FROM]:
            continue
        low = exposure.nodes[int(record[at.NODES_FROM]), at.LOG_FROM]
        width = exposure.nodes[int(record[at.NODES_TO]) - 1, at.LOG_TO] - low
        out[f] = 1.0 / (SPREAD**2 + width**2 / 12.0)
    return out


def _steps(days: Floats, cuts: tuple[float, ...]) -> list[float]:
    """Information on each step of a walk: losses before the cut against losses after it."""
    after = [float((days > cut).sum()) for cut in cuts[1:]]
    return [a * (len(days) - a) / max(len(days), 1) for a in after]


def _lean(lost: Floats, design: ModelDesign) -> Floats:
    """See `Information.lean`; 0 where nothing was lost."""
    total = lost.sum(axis=0)
    doublings = (lost[:, :, 1].T * design.doublings).sum(axis=1) / np.maximum(total[:, 1], 1.0)
    before, after = total[:, 1] / np.maximum(total.sum(axis=1), 1.0)
    return np.array([doublings[0], before, after, design.multi.mean(), doublings[1]])


def information(design: ModelDesign, exposure: Exposure) -> Information:
    """What a study tells of the effects of its design."""
    lost = losses(exposure)
    founding = lost[:, 0].sum(axis=1)
    by_effect = {
        "founding_hazard": founding,
        "together": lost[:, 0, 1],
        "worker_hazard": lost[:, 1].sum(axis=1),
        "rivalry": lost[:, 1, 1],
        "last_fight": FIGHT * np.asarray(exposure.last_fights, dtype=float),
        "first_worker": _first_workers(exposure),
    }

    by_part = {
        BEFORE: by_effect["founding_hazard"],
        AFTER: by_effect["worker_hazard"],
        FIRST_WORKER: by_effect["first_worker"],
    }
    levels = {
        level.parameter(part): np.bincount(own.index, by_part[part], len(own.names)).astype(float)
        for level in LEVELS
        if (own := design.levels.get(level.name)) is not None
        for part in level.moves
    }
    return Information(
        np.stack(
            [np.bincount(design.genus_code, by_effect[e], len(design.genera)) for e in EFFECTS]
        ),
        lost.sum(axis=(1, 2)),
        np.array([*_steps(exposure.loss_days1, at.CUTS1), *_steps(exposure.loss_days2, at.CUTS2)]),
        levels,
        _lean(lost, design),
    )
