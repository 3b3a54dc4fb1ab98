"""A toolkit for outcome studies of ant foundings.

    import cohort
    made = cohort.compare(cohort.read_study("data/demo"), say=print)
    made.results.comparisons
    made.figure("both_ways")
    made.newsletter("out")
    cohort.read_results("out").tidy("curves")

Every name is loaded when it is first used, so that ``import cohort`` costs nothing.
"""

from __future__ import annotations

import importlib
from typing import TYPE_CHECKING, Any, Final

if TYPE_CHECKING:
    from cohort.audit import examine as audit_sheets
    from cohort.base.errors import CohortError, GateError, SheetError, StudyError
    from cohort.comparison import Comparison, compare
    from cohort.face import figure, pool_studies, write_figures, write_newsletter
    from cohort.history import History
    from cohort.model.asked import fit
    from cohort.model.graph import founding_model
    from cohort.model.priors import Priors
    from cohort.model.sample import Fit
    from cohort.nonparametric.frames import survival
    from cohort.results import Results
    from cohort.results import read as read_results
    from cohort.sheets.folder import read_folder as read_sheets
    from cohort.study import Study, read_study
    from cohort.study.from_frames import study_from

_HOME: Final = {
    "Comparison": ("cohort.comparison", "Comparison"),
    "CohortError": ("cohort.base.errors", "CohortError"),
    "Fit": ("cohort.model.sample", "Fit"),
    "GateError": ("cohort.base.errors", "GateError"),
    "History": ("cohort.history", "History"),
    "Priors": ("cohort.model.priors", "Priors"),
    "Results": ("cohort.results", "Results"),
    "SheetError": ("cohort.base.errors", "SheetError"),
    "Study": ("cohort.study", "Study"),
    "StudyError": ("cohort.base.errors", "StudyError"),
    "audit_sheets": ("cohort.audit", "examine"),
    "compare": ("cohort.comparison", "compare"),
    "figure": ("cohort.face", "figure"),
    "fit": ("cohort.model.asked", "fit"),
    "founding_model": ("cohort.model.graph", "founding_model"),
    "pool_studies": ("cohort.face", "pool_studies"),
    "read_results": ("cohort.results", "read"),
    "read_sheets": ("cohort.sheets.folder", "read_folder"),
    "read_study": ("cohort.study", "read_study"),
    "study_from": ("cohort.study.from_frames", "study_from"),
    "survival": ("cohort.nonparametric.frames", "survival"),
    "write_figures": ("cohort.face", "write_figures"),
    "write_newsletter": ("cohort.face", "write_newsletter"),
}

__all__ = [
    "CohortError",
    "Comparison",
    "Fit",
    "GateError",
    "History",
    "Priors",
    "Results",
    "SheetError",
    "Study",
    "StudyError",
    "audit_sheets",
    "compare",
    "figure",
    "fit",
    "founding_model",
    "pool_studies",
    "read_results",
    "read_sheets",
    "read_study",
    "study_from",
    "survival",
    "write_figures",
    "write_newsletter",
]


def __getattr__(name: str) -> Any:
    """Load a public name from the module it lives in."""
    if name not in _HOME:
        raise AttributeError(f"cohort has no '{name}'; it has {', '.join(__all__)}")
    module, attribute = _HOME[name]  # no public name is also a module: one would hide the other
    return getattr(importlib.import_module(module), attribute)


def __dir__() -> list[str]:
    """Public names."""
    return list(__all__)
