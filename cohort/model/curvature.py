"""Coordinates of a posterior by its mode given the SDs.

Comes in: `Coordinates` by what was counted, the posterior whose SDs multiply standard normals, and
its `Mode`. Goes out: `Coordinates` by curvature, and the score of the data. Never: a prior; these
numbers only choose coordinates for the sampler.

Counts of losses tell how much is known of an effect, but not what: where a study says much of an
effect, and its coordinate was placed wrongly by a tenth, the sampler has to bring both in line
whenever the SD changes. And they tell it as if all else were known, while hazard, ratio in company,
steps and frailty share the same losses. In 10,000 simulated foundings of six kinds an SD between
genera had 136 independent draws of 2,000 by counts and a search that ended early, and 935 of 3,200
so (one run each).
"""

from __future__ import annotations

from dataclasses import replace
from typing import Final

import numpy as np
import numpy.typing as npt

from cohort.likelihood import packing as at
from cohort.model.conditional_mode import Mode
from cohort.model.coordinates import Coordinates
from cohort.model.parameters import EFFECTS
from cohort.model.places import Where

Floats = npt.NDArray[np.float64]
NOISE: Final = 1e-6
"""A score below this is that of a search that ends somewhere near a mode."""


def by_curvature(
    chosen: Coordinates, where: Where, rows: Floats, mode: Mode, sd: Floats
) -> tuple[Coordinates, Floats]:
    """Coordinates turned and told by curvature, and the mode in them.

    Contrasts between genera, steps, and levels unless they are many, are turned so that their
    estimates are independent of each other, all else unknown.

    Parameters
    ----------
    chosen : Coordinates
        By counts.
    where : mapping of slice
        Place of each parameter.
    rows : float array, shape (rows, ROW)
        Table of the posterior in which ``mode`` was found.
    mode : Mode
        In standard normals.
    sd : float array, shape (coordinates,)
        The SD at the mode that multiplies each; 0 where none does.

    Returns
    -------
    Coordinates
    float array, shape (coordinates,)
        The mode, in standard normals of these coordinates.
    """
    told, normals = np.zeros(len(mode.at)), mode.at.copy()
    columns, turns = chosen.between.columns.copy(), dict(chosen.turns)
    names = {own.start: name for name, own in where.items() if own.stop > own.start}
    for row in rows[rows[:, at.SD] >= 0]:
        own = slice(int(row[at.FIRST]), int(row[at.FIRST] + row[at.LENGTH]))
        if own.stop == own.start or not sd[own.start]:
            continue
        name, square = names.get(own.start, ""), sd[own.start] ** 2
        if name == "frailty":
            told[own] = (mode.single - 1.0) / square
            continue
        information = mode.told(own) / square
        if name not in EFFECTS and own.start not in turns and row[at.FAMILY] == at.LEVEL:
            told[own] = np.diag(information)  # too many levels to be turned
            continue
        told[own], turn = np.linalg.eigh(information)
        normals[own] = turn.T @ normals[own]
        if name in EFFECTS:
            columns[EFFECTS.index(name)] = columns[EFFECTS.index(name)] @ turn
        else:
            turns[own.start] = turns.get(own.start, np.eye(len(turn))) @ turn
    told = told.clip(0.0)
    by_name = {name: told[where[name]] for name in chosen.information}
    between = replace(
        chosen.between, columns=columns, information=np.stack([by_name[e] for e in EFFECTS])
    )
    return replace(chosen, between=between, information=by_name, turns=turns), normals


def score(normals: Floats, sd: Floats, information: Floats) -> Floats:
    """Score of every coordinate, 0 where no SD multiplies it; see `cohort.likelihood.noncentred`.

    Given the SD a standard normal lies about SD x score / (1 + SD^2 information).

    Parameters
    ----------
    normals, sd, information : float arrays, shape (coordinates,)
        Standard normals at the mode; the SD there, 0 where none multiplies them.
    """
    out = np.zeros(len(normals))
    some = sd > 0.0
    out[some] = normals[some] * (1.0 + sd[some] ** 2 * information[some]) / sd[some]
    return np.where(np.abs(out) < NOISE, 0.0, out)
