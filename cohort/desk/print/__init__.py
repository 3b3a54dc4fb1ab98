"""Paper for keepers: night sheet with lots, check sheet, labels.

What comes in: numbers, open foundings, a seed. What goes out: PDFs as bytes. Nothing here writes
a sheet of the study.
"""

from cohort.desk.print.pages import (
    CheckRow,
    Label,
    NightList,
    blocks_for,
    check_sheet,
    label_sheet,
    night_list,
    night_sheet,
)

__all__ = [
    "CheckRow",
    "Label",
    "NightList",
    "blocks_for",
    "check_sheet",
    "label_sheet",
    "night_list",
    "night_sheet",
]
