"""The vector that a density reads: a head, a table of parameters, and what the table speaks of.

Comes in: nothing. Goes out: numbers of places, shared by `density` (which reads the vector) and
`cohort.model.log_posterior` (which fills it). Never: a computation, a name of a parameter.

Which parameters there are, and where each lies in the vector that is sampled, is said by
the table, one row per parameter or group of parameters; its rows are made from
`cohort.model.parameters`. After the head come: the table; moves of means; information and score of
each coordinate (see `noncentred`); contrasts between genera (see `genera`); turns of levels, each
(levels, levels), by which their standard normals are made of independent ones; what moves single
foundings (see `moved`); the study (`assembly.in_one`).
"""

from __future__ import annotations

from typing import Final

from cohort.likelihood.layout import N1, N2

STEPS1: Final = N1 - 1
"""Steps of the walk of the log hazard in the founding phase; those of the worker phase follow."""
STEPS: Final = STEPS1 + N2 - 1
# head
H_TOTAL: Final = 0  # numbers in the vector
H_WIDTH: Final = 1  # coordinates
H_GENERA: Final = 2
H_FOUNDINGS: Final = 3
H_BY_LEVEL: Final = 4  # rows of the table of effects by level
H_BY_SLOPE: Final = 5  # rows of the table of effects by coefficient
H_GROUPINGS: Final = 6  # kinds of level in the model
H_COLUMNS: Final = 7  # numbers of each founding that coefficients multiply
H_MOVES: Final = 8  # rows of the table of moves
H_ROWS: Final = 9  # rows of the table of parameters, and from which row on they are ...
H_GENUS: Final = 10  # effects of genera
H_MULTIPLIED: Final = 11  # multiplied by an SD
H_COEFFICIENTS: Final = 12  # coefficients of covariates
H_LASTING: Final = 13  # 1: the effect of company stays with the last queen
AT_WALK: Final = 14  # coordinates: first step of the walks
AT_WALK_SD: Final = 15  # first of their two SDs
AT_FRAILTY: Final = 16  # first founding
H_TURNS: Final = 17  # numbers of all turns
HEAD: Final = 18

# columns of the table of parameters
FAMILY: Final = 0
FIRST: Final = 1  # first coordinate
LENGTH: Final = 2  # coordinates
SD: Final = 3  # coordinate of the SD that multiplies them; else -1
ACTIVE: Final = 4  # 0: the SD multiplies nothing, genera are not told apart
A: Final = 5  # two numbers of the prior
B: Final = 6
LOW: Final = 7  # limits; of a stretched SD its ...
RATE: Final = LOW
HIGH: Final = 8
MEAN: Final = 9  # coordinate of the mean over genera; else -1
SHARED: Final = 10  # column of what all foundings share (`layout`); else -1
FIXED: Final = 11  # 1: a variant of the model holds it at ...
VALUE: Final = 12
TURN: Final = 13  # of a level: where its turn begins in this vector; else -1
ROW: Final = 14

# families
NORMAL: Final = 0  # A mean, B SD; an SD with a sign is one with mean 0
LOG_NORMAL: Final = 1  # the log is sampled
LOGIT_BETA: Final = 2  # the logit is sampled; A and B are the numbers of the beta
CUT_NORMAL: Final = 3  # the logit of its place between the limits is sampled
MULTIPLIED: Final = 4  # standard normals that an SD multiplies, non-centred
LEVEL: Final = 5  # the same, but the parameter is SD x standard normal
GENUS: Final = 6  # effect by genus: contrasts, non-centred; A and B of the mean over genera
STRETCHED: Final = 7  # an SD with a sign, its prior's SD B; sinh(RATE u) / RATE, u is sampled

# columns of the table of moves: the coordinate of a mean is shifted by a multiple of another, or
# of an effect of a level
TARGET: Final = 0
SOURCE: Final = 1
AMOUNT: Final = 2
EFFECT: Final = 3  # 1: what shifts it is an effect, not a coordinate
MOVE: Final = 4

# columns of the tables of what moves single foundings: by level, and by coefficient
COORDINATE: Final = 0  # of the first level; of the coefficient
OF: Final = 1  # grouping; column
PART: Final = 2  # part of a founding's parameters, see `layout`
BY: Final = 3
