"""What may be said of each contrast: its word, and what kept the word from being stronger.

Comes in: a fit, its outcomes and the long table. Goes out: rows of ``verdicts.csv`` and of
``sensitivity.csv``. Never: a sentence, a change of a number.

`rules` is the one pure function; `strength` asks how far a chance rests on the priors, `lot` what
is left of it without the foundings that were not allotted by lot, `differ` whether kinds differ;
`table` puts one question after the other.
"""

from cohort.verdict.rules import Evidence, Verdict, verdict
from cohort.verdict.table import Behind, Judged, behind, judged

__all__ = ["Behind", "Evidence", "Judged", "Verdict", "behind", "judged", "verdict"]
