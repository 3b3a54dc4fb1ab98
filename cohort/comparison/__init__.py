"""The comparison: the one place where the steps follow one another, and the refits beside it.

Comes in: a `Study`. Goes out: a `Comparison`. Never: a figure, a sentence, a file.
"""

from cohort.comparison.steps import SEED, Comparison, compare

__all__ = ["SEED", "Comparison", "compare"]
