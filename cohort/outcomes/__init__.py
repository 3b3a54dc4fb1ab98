"""From draws to the quantities people ask for: per kind, for all kinds together, for a new one.

Comes in: posterior or prior draws and the foundings behind them. Goes out: arrays per draw
(`quantities`) and the long table (`table`). Never: a formula of a transition (those are in
`predict.recursion`), a sentence.
"""

from cohort.outcomes.parameters import Draws, posterior_draws, prior_draws
from cohort.outcomes.quantities import Outcomes, outcomes
from cohort.outcomes.table import comparisons, printed

__all__ = [
    "Draws",
    "Outcomes",
    "comparisons",
    "outcomes",
    "posterior_draws",
    "printed",
    "prior_draws",
]
