"""Where each number of a packed study lies: columns of the three tables the kernel reads.

Comes in: nothing. Goes out: column numbers, shared by `exposure` (which fills the tables) and
`founding` (which reads them). Never: a computation.

A packed study is three float tables (whole numbers are stored as floats, exactly):

* ``records``, one row per founding, then one per delayed entry (the chance of its state at
  entry, which divides its likelihood);
* ``rows``, one per interval with a loss: phase, queens before and after, exposure per piece;
* ``nodes``, one per cell of days that may hold the unseen first day E: its edges, the exposure
  without loss before and after E, the rows that go with it, and the interval that holds E
  when that interval has a loss.

Where foundings run on degree-days, ``records`` and ``nodes`` are wider: the degree-days run up by
each day that tells of the first worker follow, above each of a row of thresholds, with their
derivatives. A study without shelf logs has the narrow tables, and pays nothing.
"""

from __future__ import annotations

from typing import Final

CUTS1: Final = (0.0, 7.0, 21.0, 42.0, 70.0)
"""Days since day 0 at which the founding-phase hazard may step (statistics.md, section 2)."""
CUTS2: Final = (0.0, 10.0, 30.0, 60.0)
"""Days since the first worker at which the worker-phase hazard may step."""
LEVEL1: Final = 2
"""The founding-phase piece (days 21-42) whose log step is 0."""
N1: Final = len(CUTS1)
N2: Final = len(CUTS2)

# days of a path lie side by side, in the order of the hazards in `rates`

# records
NONE: Final = 0  # 1 when "no worker before the end" is one of the explanations
LOG_END: Final = 1  # log of the day by which no worker had come in that explanation
BASE_FROM: Final = 2
BASE_TO: Final = 3
NONE_FROM: Final = 4
NONE_TO: Final = 5
NODES_FROM: Final = 6
NODES_TO: Final = 7
OWNER: Final = 8  # founding whose parameters apply
BASE_COMPANY: Final = 9
BASE_LONE: Final = BASE_COMPANY + N1
NONE_COMPANY: Final = BASE_LONE + N1
NONE_LONE: Final = NONE_COMPANY + N1
RECORD_WIDTH: Final = NONE_LONE + N1

# rows
PHASE: Final = 0  # founding phase 0, worker phase 1; with winter rest see `COLD`
BEFORE: Final = 1
AFTER: Final = 2
SOME: Final = -1  # in AFTER: queens were counted no more, but one at least was left
EXPOSURE: Final = 3
ROW_WIDTH: Final = EXPOSURE + N1
COLD: Final = 2
"""Added to the phase of a row that speaks of days of winter rest, in the first column of exposure.

Such rows stand for intervals without a loss too. Where an interval with a loss holds winter rest
its stages follow one another row by row, the counts between them unseen. Its last row has `LINK`
times the stages before it added to its phase; a stage before it has -1 - phase, and under `AFTER`
the fewest queens at its end. All of them have the queens at its start under `BEFORE`."""
LINK: Final = 4

# nodes
LOG_E: Final = 0  # log of the day that stands for the cell
LOG_FROM: Final = 1  # log of the cell's first day
LOG_TO: Final = 2  # log of the cell's last day
LEAST: Final = 3  # fewest queens at E in a split interval; -1 = no split interval
SPLIT_BEFORE: Final = 4
SPLIT_AFTER: Final = 5
ROWS_FROM: Final = 6
ROWS_TO: Final = 7
COMPANY1: Final = 8
LONE1: Final = COMPANY1 + N1
COMPANY2: Final = LONE1 + N1
LONE2: Final = COMPANY2 + N2
SPLIT1: Final = LONE2 + N2
SPLIT2: Final = SPLIT1 + N1
NODE_WIDTH: Final = SPLIT2 + N2

# what follows in the records and nodes of a study with shelf logs
KNOTS: Final = 9
"""Thresholds at which degree-days are kept, evenly apart; between them a cubic runs."""
REFERENCE: Final = 0  # temperature whose days are the unit; 0: this founding runs on plain days
LOW_KNOT: Final = 1  # lowest threshold
KNOT_STEP: Final = 2  # degrees from one threshold to the next
EDGES: Final = 3
EDGE_WIDTH: Final = 2 * KNOTS  # degree-days by threshold, then derivatives in the threshold
WARM_RECORD: Final = RECORD_WIDTH
WARM_END: Final = WARM_RECORD + EDGES
WARM_RECORD_WIDTH: Final = WARM_END + EDGE_WIDTH
WARM_NODE: Final = NODE_WIDTH
WARM_FROM: Final = WARM_NODE + EDGES
WARM_TO: Final = WARM_FROM + EDGE_WIDTH
WARM_NODE_WIDTH: Final = WARM_TO + EDGE_WIDTH

# per-founding parameters
HAZARD1: Final = 0  # log hazard of a lone founding queen, days 21-42, without frailty
TOGETHER: Final = 1  # log ratio while two or more live, founding phase
HAZARD2: Final = 2  # log hazard of a lone queen with workers, first ten days
RIVALRY: Final = 3  # log ratio while two or more live, worker phase
LAST_FIGHT: Final = 4  # theta, share of losses from two that take both
LOG_DAY: Final = 5  # mean log day of the first worker
FERTILE: Final = 6  # phi, chance that the founding can have workers at all
FRAILTY: Final = 7  # z, standard normal
THRESHOLD: Final = 8  # degrees Celsius above which a logged shelf counts; else not read
FOUNDING_WIDTH: Final = 9

# parts of a founding's parameters that its keeper, a covariate ... may move
P_BEFORE: Final = 0  # log hazard before workers
P_AFTER: Final = 1  # log hazard with workers
P_FIRST_WORKER: Final = 2  # mean log day of the first worker
P_MATED: Final = 3  # logit of the chance of being mated
PARTS: Final = 4

# effects of a genus; the rows of ``effects`` in `density`, its columns elsewhere
E_HAZARD1: Final = 0
E_TOGETHER: Final = 1
E_HAZARD2: Final = 2
E_RIVALRY: Final = 3
E_LAST_FIGHT: Final = 4  # a logit in `density`, a chance in all that is handed to `predictor`
E_LOG_DAY: Final = 5
EFFECTS: Final = 6

# parameters all foundings share
STEPS1: Final = 0
STEPS2: Final = STEPS1 + N1
WITHIN_DAYS: Final = STEPS2 + N2
SIGMA: Final = WITHIN_DAYS + 1
LOADING: Final = SIGMA + 1  # frailty of the worker phase over that of the founding phase; 1
WINTER: Final = LOADING + 1  # log hazard in winter rest over that of the level piece, lone queens
WINTER_COMPANY: Final = WINTER + 1  # log ratio while two or more live, in winter rest
READ: Final = WINTER_COMPANY + 1  # columns up to here are read by the likelihood of a founding
S_SIZE_STEP: Final = READ  # what `predictor` makes the per-founding parameters of
S_SIZE_STEP_RIVALRY: Final = S_SIZE_STEP + 1
S_MULTI_DAYS: Final = S_SIZE_STEP_RIVALRY + 1
S_MATED: Final = S_MULTI_DAYS + 1
S_SEEN: Final = S_MATED + 1
S_THRESHOLD: Final = S_SEEN + 1
S_LASTING: Final = S_THRESHOLD + 1  # 1 where the effect of company stays with the last queen
SHARED_WIDTH: Final = S_LASTING + 1
