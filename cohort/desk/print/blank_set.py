"""The blank set for keepers who install nothing: workbook, night sheet, check sheet.

What comes in: a folder. What goes out: the files of ``data/blank`` of this project. It is run by
those who look after the project when the contract changes; a test holds the files against it.
"""

from __future__ import annotations

from pathlib import Path

from cohort.desk.allot import Ask
from cohort.desk.print.pages import CheckRow, check_sheet, night_list, night_sheet
from cohort.sheets.blank import blank_workbook
from cohort.sheets.files import inner
from cohort.sheets.lists import write_list
from cohort.sheets.numbers import next_numbers

SEED = 20260701
LIST = "P1"
"""Name of the list on the blank night sheet; a copy of it goes with the sheet."""


def write_blank_set(folder: Path) -> tuple[Path, ...]:
    """Write the blank set.

    Parameters
    ----------
    folder : Path
        Made if it is not there; files of an earlier set in it are replaced.
    """
    folder.mkdir(parents=True, exist_ok=True)
    lots = night_list(Ask(), SEED, name=LIST)
    numbers = next_numbers("__", (), 16)
    files = {
        "workbook.xlsx": blank_workbook(),
        "night-sheet.pdf": night_sheet(lots, numbers),
        "check-sheet.pdf": check_sheet([CheckRow("")] * 15),
        "check-sheet-one-day.pdf": check_sheet([CheckRow("")] * 21, dates=1),
    }
    for name, data in files.items():
        (folder / name).write_bytes(data)
    (inner(folder, "lists") / f"{LIST}.csv").unlink(missing_ok=True)
    kept = write_list(folder, LIST, lots.rows("", "2026-07-01"))
    return (*(folder / name for name in files), kept)
