"""Proof on the reader's own machine: five parts, each of which could fail.

Comes in: which parts, a seed. Goes out: a `Proof`, and its page (`words`). Never: a number that
was not worked out here and now; the long runs lie in ``tests/slow/results``.
"""

from cohort.prove.lines import Line, Part
from cohort.prove.run import PARTS, Proof, prove

__all__ = ["PARTS", "Line", "Part", "Proof", "prove"]
