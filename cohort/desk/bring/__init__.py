"""Somebody's own spreadsheet -> sheets of a study.

What comes in: a workbook or CSV file as its keeper made it. What goes out: what each heading was
taken for and why, a mapping file to correct, then rows for the study. The original is kept with
its checksum; nothing is invented to fill a blank.
"""

from cohort.desk.bring.grid import Grid, read_grid
from cohort.desk.bring.guess import Taken, guess
from cohort.desk.bring.mapping import Mapping, read_mapping, write_mapping
from cohort.desk.bring.rows import Brought, convert
from cohort.desk.bring.run import Look, look, write

__all__ = [
    "Brought",
    "Grid",
    "Look",
    "Mapping",
    "Taken",
    "convert",
    "guess",
    "look",
    "read_grid",
    "read_mapping",
    "write",
    "write_mapping",
]
