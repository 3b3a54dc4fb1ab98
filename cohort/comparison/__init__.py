"""The comparison: the one place where the steps follow one another, and the refits beside it.

Comes in: a `Study`. Goes out: a `Comparison`. Never: a figure, a sentence, a file.
"""

from cohort.comparison.record import Comparison
from cohort.comparison.steps import SEED, compare

__all__ = ["SEED", "Comparison", "compare"]
