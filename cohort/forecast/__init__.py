"""What is due: foundings to look at, first workers to expect, groups that may lose queens.

Comes in: a study and the draws a forecast stands on. Goes out: a frozen `Due` (frames), and a
calendar file. Never: a sampler, a word of advice to end a founding.
"""

from cohort.forecast.due import Due, due

__all__ = ["Due", "due"]
