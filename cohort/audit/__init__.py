"""Mistakes in the sheets of a study, each with its place and what to do.

What comes in: `Sheets` as typed. What goes out: findings (error, warning, note). It reports all of
them and repairs none.
"""

from __future__ import annotations

import datetime as dt

from cohort.audit.settings import Settings
from cohort.audit.whole import Examined, examine
from cohort.base.errors import Finding
from cohort.sheets.found import Found
from cohort.sheets.raw import Sheets

__all__ = ["Examined", "Finding", "Found", "Settings", "audit", "examine"]


def audit(sheets: Sheets, today: dt.date | None = None) -> Found:
    """All findings in the sheets of a study, errors first.

    Parameters
    ----------
    sheets : Sheets
        From `cohort.sheets.folder.read_folder`.
    today : date, optional
        Dates after it are errors; today's date by default.

    Returns
    -------
    Found
        Reads like a tuple of findings.
    """
    return examine(sheets, today or dt.date.today()).findings
