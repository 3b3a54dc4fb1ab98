"""Studies: frozen tables made of sheets or of frames, a part of one, several as one.

Comes in: sheets that were read and examined. Goes out: a `Study`, the only shape in which the
rooms that follow take data. Never: a computation on the foundings.
"""

from cohort.study.from_sheets import read_study
from cohort.study.tables import COLUMNS, Settings, Study, study_of

__all__ = ["COLUMNS", "Settings", "Study", "read_study", "study_of"]
