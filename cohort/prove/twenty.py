"""Calibration in small: twenty studies whose truth is drawn from the priors, fitted and ranked.

Comes in: a seed. Goes out: ranks, and lines. Twenty prove little: a program that is altogether
wrong piles its ranks up at an end, and its intervals miss. The long runs lie in
``tests/slow/results``.
"""

from __future__ import annotations

import tempfile
from pathlib import Path
from typing import Final

import pandas as pd

from cohort.calibrate import Task, calibrate, collected, summary
from cohort.calibrate.ranks import KEPT
from cohort.prove.lines import Line
from cohort.terms.voice import told

SEED: Final = 9001
STUDIES: Final = 20
FAILED: Final = 1
"""Fits that may fail: one in fifty does."""
COVERAGE: Final = (0.84, 0.96)
MEAN_RANK: Final = (0.42, 0.58)
OUTSIDE: Final = 2
"""Quantities that may leave their band."""


def ranked(seed: int, task: Task | None = None) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Ranks of the truth and record of the fits, of twenty studies from a seed on."""
    with tempfile.TemporaryDirectory() as folder:
        calibrate(Path(folder), range(seed, seed + STUDIES), task or Task())
        return collected(Path(folder))


def calibrated(ranks: pd.DataFrame, record: pd.DataFrame) -> tuple[Line, ...]:
    """How often the fits failed, ranges held the truth, and ranks left their bands."""
    table = summary(ranks, KEPT)
    failed = int((record["failed"].fillna("").astype(str) != "").sum())
    return (
        Line(told("line_studies"), float(len(ranks)), STUDIES - FAILED, STUDIES, 0),
        Line(told("line_failed"), float(failed), 0, FAILED, 0),
        Line(told("line_coverage", n=len(table)), float(table["coverage"].mean()), *COVERAGE, 3),
        Line(told("line_mean_rank"), float(table["mean_rank"].mean()), *MEAN_RANK, 3),
        Line(told("line_outside"), float((table["outside"] > 0).sum()), 0, OUTSIDE, 0),
    )
