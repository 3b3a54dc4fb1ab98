"""Forty faults, each planted in a copy of the demo season, each found at its row.

A fault is a line of a file with one piece of text replaced, or a line put behind it (the old text
is empty). What is found besides is allowed: in a living study one slip may trip a second rule.
"""

import datetime as dt
import shutil
from pathlib import Path

import pytest

from cohort.audit import audit
from cohort.sheets.folder import read_folder

DEMO = Path(__file__).parents[2] / "data" / "demo"
TODAY = dt.date(2026, 11, 25)
F1, F2, F4 = "foundings-K1.csv", "foundings-K2.csv", "foundings-K4.csv"
C1, C2 = "checks-K1.csv", "checks-K2.csv"
E1 = "events-K1.csv"
# rule, file, row, text on that row, what takes its place
FAULTS = [
    ("genus-unknown", F1, 2, "Messor", "Mesor"),
    ("heading-twice", F1, 1, "marked", "shelf"),
    ("open-quote", F1, 3, "K1-02,Messor", '"K1-02,Messor'),
    ("id-twice", F1, 3, "K1-02", "K1-01"),
    ("cell-missing", F1, 4, "2025-05-11,3", ",3"),
    ("cell-missing", F1, 5, "2025-05-11,1", "2025-05-11,"),
    ("not-a-count", F1, 6, "2025-06-04,1", "2025-06-04,one"),
    ("not-a-count", F1, 7, "2025-06-04,3", "2025-06-04,2.5"),
    ("no-queen", F1, 8, "2025-06-04,4", "2025-06-04,0"),
    ("not-a-date", F1, 9, "2025-06-04,1", "some day in June,1"),
    ("date-ambiguous", F2, 2, "2025-05-12,3", "05/06/2025,3"),
    ("date-after-today", F1, 17, "2025-07-10,1", "2027-07-10,1"),
    ("unknown-word", F1, 18, "mites", "mitess"),
    ("unknown-word", F1, 12, "random", "by chance"),
    ("unknown-word", F1, 13, "test-tube", "jam jar"),
    ("kind-unknown", F1, 10, "dull-brown", "dull-bron"),
    ("id-unknown", F1, 21, "K1-13", "K1-99"),
    ("split-off", F1, 21, "split-off", ""),
    ("catch-unknown", F1, 14, "C18", "C88"),
    ("flight-after-started", F1, 15, "2025-07-09", "2025-07-29"),
    ("mating-more-than-queens", F4, 12, "none,2", "none,5"),
    ("followed-before-started", F4, 4, "2025-06-25", "2025-05-02"),
    ("shelf-unknown", F1, 16, "S1", "S9"),
    ("id-unknown", C1, 20, "K1-03", "K1-73"),
    ("count-rises", C1, 20, "2025-05-31,3", "2025-05-31,4"),
    ("look-before-started", C1, 21, "2025-05-31", "2025-04-30"),
    ("date-after-today", C1, 22, "2025-06-04", "2027-06-04"),
    ("not-a-count", C1, 23, "2025-06-04,2", "2025-06-04,two"),
    ("unknown-word", C1, 23, "pupae", "pupa e"),
    ("looks-disagree", C1, 24, "", "K1-03,2025-06-04,2,0,,,"),
    ("repeated-row", C1, 24, "", "K1-03,2025-06-04,3,0,pupae,,"),
    ("rest-not-same", C2, 10, "same", "3"),
    ("same-without-rest", C2, 12, "2025-06-08,2", "2025-06-08,same"),
    ("unknown-word", E1, 2, "killed", "kiled"),
    ("id-unknown", E1, 3, "K1-06", "K1-66"),
    ("event-before-started", E1, 4, "2025-08-05", "2025-06-05"),
    ("end-without-reason", E1, 12, "given", ""),
    ("winter-in-twice", E1, 17, "winter-out", "winter-in"),
    ("min-above-max", "temperatures.csv", 2, "23.7", "33.7"),
    ("died-more-than-kept", "catches.csv", 2, "released,", "released,99"),
    ("note-line", "checks-K3.txt", 2, "K3-01 3 0", "K3-01 three"),
    ("kind-twice", "kinds.csv", 4, "", "amber-leg,Messor,sure,,"),
]


def planted(folder: Path, file: str, row: int, old: str, new: str) -> int:
    """Plant one fault; returns the row at which it lies."""
    shutil.copytree(DEMO, folder)
    lines = (folder / file).read_text("utf-8").splitlines()
    if old:
        assert old in lines[row - 1]
        lines[row - 1] = lines[row - 1].replace(old, new, 1)
    else:
        lines.insert(row, new)
    (folder / file).write_text("\n".join(lines) + "\n", "utf-8")
    return row if old else row + 1


def test_there_are_forty_and_the_demo_has_none_of_them():
    assert len(FAULTS) >= 40
    assert len({fault[0] for fault in FAULTS}) >= 28
    found = [(f.rule, f.level) for f in audit(read_folder(DEMO), TODAY)]
    assert found == [("id-gap", "warning"), ("kind-named", "note")]


@pytest.mark.parametrize("fault", FAULTS, ids=lambda f: f"{f[0]}-{f[1]}-{f[2]}")
def test_it_is_found_at_its_row(fault, tmp_path):
    rule, file, row, old, new = fault
    at = planted(tmp_path / "season", file, row, old, new)
    found = audit(read_folder(tmp_path / "season"), TODAY)
    assert (rule, file, at) in {(f.rule, f.file, f.row) for f in found}
