"""Where each parameter of the founding model lies in the vector the sampler walks through.

Comes in: numbers of genera, foundings and levels. Goes out: places in a vector, shared by
`density` (which reads it) and `cohort.model.coordinates` (which fills and names it). Never: a
computation.

A fixed head is the same for every study; what a study does not speak of (warmth, keepers) stays
there at its prior and is never named. Contrasts between genera, foundings and levels follow, block
by block.
"""

from __future__ import annotations

from typing import Final

import numpy as np
import numpy.typing as npt

from cohort.transitions.layout import EFFECTS, N1, N2

STEPS: Final = N1 - 1 + N2 - 1
"""Steps of the two walks of the log hazards: founding phase, then worker phase."""
LEVELS: Final = 3
"""Kinds of level with an SD of their own: keeper, flight, species within the genus."""

SIZE_STEP: Final = 0
MULTI_DAYS: Final = 1
WITHIN_DAYS: Final = 2  # its log
FRAILTY_SD: Final = 3  # with a sign, as are all SDs
MATED: Final = 4  # its logit
SEEN: Final = 5
LOADING: Final = 6
WARM_THRESHOLD: Final = 7  # logit of its place between the limits
WARM_DAYS: Final = 8
LEVEL_SD: Final = 9
WALK_SD: Final = LEVEL_SD + LEVELS
WALK: Final = WALK_SD + 2
GENUS_SD: Final = WALK + STEPS
GENUS_MEAN: Final = GENUS_SD + EFFECTS
GENUS: Final = GENUS_MEAN + EFFECTS
"""The first block after the head: contrasts between genera, one fewer than genera, by effect."""

# blocks after the head, as `blocks` counts them
B_GENUS: Final = 0
B_FOUNDING: Final = 1
B_LEVEL: Final = 2  # and the two after it
B_COVARIATE: Final = B_LEVEL + LEVELS
BLOCKS: Final = B_COVARIATE + 1

# switches of the model
POOLED_FIGHT: Final = 0  # one share of last fights for all genera
LASTING: Final = 1  # the effect of company stays with the last queen
NO_FRAILTY: Final = 2
ALL_FERTILE: Final = 3
NO_RIVALRY: Final = 4
LEAVES_ONE: Final = 5  # a last fight never takes both
FREE_LOADING: Final = 6
SWITCHES: Final = 7

# the vector of all that the density reads: a head, then one part after another
H_TOTAL: Final = 0  # numbers in the vector
H_WIDTH: Final = 1  # coordinates
H_SIZES: Final = 2  # genera, foundings, levels of each kind, covariates
H_WARM: Final = H_SIZES + BLOCKS  # foundings whose warmth is known: all or none
H_SWITCHES: Final = H_WARM + 1
H_LEAN: Final = H_SWITCHES + SWITCHES
LEANS: Final = 4
H_LIMITS: Final = H_LEAN + LEANS
HEAD: Final = H_LIMITS + 2

# parts of that vector with a number for each coordinate, right after its head
TOLD: Final = 0  # information of the data on what is eased
PULL: Final = 1  # and how far they pull it from nought, see `eased`
CENTRE: Final = 2  # of priors
SCALE: Final = 3
PARTS: Final = 4


def blocks(
    genera: int, foundings: int, levels: tuple[int, int, int], covariates: int
) -> npt.NDArray[np.int64]:
    """First place of each block, and of what would follow: ints of shape (BLOCKS + 1,)."""
    widths = [EFFECTS * (genera - 1), foundings, *levels, covariates]
    return GENUS + np.concatenate([[0], np.cumsum(widths)]).astype(np.int64)
