"""What happened to each founding: brackets, queens at risk and lost, entry and end.

What comes in: a `Study`. What goes out: a frozen `History`; see `cohort.history.record` for its
columns. It fits nothing, and never alters what a keeper wrote.
"""

from cohort.history.build import history
from cohort.history.gathered import gathered
from cohort.history.record import END_KINDS, FOUNDING_COLUMNS, History

__all__ = ["END_KINDS", "FOUNDING_COLUMNS", "History", "gathered", "history"]
