"""A printed table as a CSV file inside a link.

In comes a `Table`; out comes a ``data:`` address that a browser saves as a file, from a page on a
disk too, without asking anybody. Numbers stand in it as they are printed; the unrounded ones are in
comparisons.csv and curves.csv. Never lets a cell of a keeper's run as a formula.
"""

from __future__ import annotations

import base64
import csv
import io
import re

from cohort.newsletter.speech import without_marks
from cohort.newsletter.tables import Table
from cohort.sheets.guard import guard_text

HEAD = "data:text/csv;charset=utf-8;base64,"
_NUMBER = re.compile(r"[-+]?[\d.,\u202f\u00a0]+")


def csv_text(table: Table) -> str:
    """The table as CSV, with the mark by which spreadsheets know UTF-8."""
    out = io.StringIO()
    out.write("\ufeff")
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow([_cell(text) for text in table.head])
    writer.writerows([[_cell(text) for text in row] for row in table.rows])
    return out.getvalue()


def csv_link(table: Table) -> str:
    """Address of the table as a file."""
    return HEAD + base64.b64encode(csv_text(table).encode("utf-8")).decode("ascii")


def _cell(text: str) -> str:
    """A cell as printed; one that a spreadsheet would take for a formula is made text."""
    plain = without_marks(text).strip()
    return plain if _NUMBER.fullmatch(plain) else guard_text(plain)
