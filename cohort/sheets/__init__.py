"""Sheets of a study folder as tables that remember file, tab and row.

What comes in: a folder of CSV files, workbooks and plain check notes. What goes out: `Sheets`.
It never changes a file and never turns text into numbers; that is done when sheets are audited.
"""

from cohort.sheets.raw import Notice, RawTable, Sheets, Source

__all__ = ["Notice", "RawTable", "Sheets", "Source"]
