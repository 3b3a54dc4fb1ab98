"""Curves and tests that assume no model of foundings.

What comes in: a `History` for `curves`, plain arrays for the estimators. What goes out: frames
and frozen results. Brackets are half-open, ties are ties, and bands come from resampling whole
foundings, given as weights.
"""

from cohort.nonparametric.brackets import Masses, turnbull
from cohort.nonparametric.competing import Incidence, Occupation, cumulative_incidence, occupation
from cohort.nonparametric.ranks import RankTest, StrataTest, logrank, strata_logrank
from cohort.nonparametric.survival import Survival, product_limit, restricted_mean
from cohort.nonparametric.table import COLUMNS, curves

__all__ = [
    "COLUMNS",
    "Incidence",
    "Masses",
    "Occupation",
    "RankTest",
    "StrataTest",
    "Survival",
    "cumulative_incidence",
    "curves",
    "logrank",
    "occupation",
    "product_limit",
    "restricted_mean",
    "strata_logrank",
    "turnbull",
]
