"""Calibration: whether the truth lies where the posterior says, study after study.

Comes in: seeds. Goes out: ranks of the truth among posterior draws, one file per study, and a
table that sets them against uniform ranks. Parameters are drawn from the priors, foundings are
lived through by the event simulator, written as sheets, read back and fitted (Talts et al. 2018,
arXiv 1804.06788). Never: a likelihood of its own.
"""

from cohort.calibrate.bands import Band, band, summary
from cohort.calibrate.fingerprint import fingerprint
from cohort.calibrate.ranks import MUTANTS, Task, harsh, large, ranks_of
from cohort.calibrate.report import report
from cohort.calibrate.run import calibrate, collected
from cohort.calibrate.season import Shape
from cohort.calibrate.tally import covered, said, told, word_shares
from cohort.calibrate.worlds import trials

__all__ = [
    "MUTANTS",
    "Band",
    "Shape",
    "Task",
    "band",
    "calibrate",
    "collected",
    "covered",
    "fingerprint",
    "harsh",
    "large",
    "ranks_of",
    "report",
    "said",
    "summary",
    "told",
    "trials",
    "word_shares",
]
