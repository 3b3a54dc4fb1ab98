"""A folder of sheets -> a study.

What comes in: a folder. What goes out: a frozen `Study`, or an error that carries every finding.
Nothing is repaired on the way.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from pathlib import Path

from cohort.audit import examine
from cohort.base.asked import day_of
from cohort.base.frames import held
from cohort.sheets.folder import read_folder
from cohort.study.own import own_columns, with_own
from cohort.study.tables import Study, study_of


def read_study(
    folder: str | Path, *, without_faulty: bool = False, today: dt.date | None = None
) -> Study:
    """Study of a folder of sheets.

    Parameters
    ----------
    folder : path
        With CSV files, workbooks or check notes.
    without_faulty : bool
        Leave out foundings that have an error, listed in `Study.faulty`; an error that belongs to
        no founding still stops.
    today : date, optional
        Dates after it are errors; today's date by default.

    Returns
    -------
    Study
        Columns of your own in a sheet of foundings are kept in `Study.foundings`, and so in
        `Study.history`: text as typed under the heading as typed, ``""`` where blank. Names that a
        study makes itself (``named``, ``season``, ``file``, ``row``) are made anew. No rule reads
        them, and no file of results bears them.

    Raises
    ------
    StudyError
        No such folder, or no sheet in it.
    SheetError
        Errors in the sheets; it carries all findings.

    Examples
    --------
    >>> import cohort
    >>> s = cohort.read_study("data/demo")
    >>> s.foundings.loc[0, ["founding", "genus", "queens", "arm"]].to_dict()
    {'founding': 'K1-01', 'genus': 'Messor', 'queens': 1, 'arm': 'single'}
    """
    sheets = read_folder(folder)
    examined = examine(sheets, day_of(today))
    study = study_of(examined, sheets.sources, without_faulty=without_faulty)
    found = held(study, "foundings")
    own = own_columns(found, sheets.of("foundings"))
    return replace(study, foundings=with_own(found, own))
