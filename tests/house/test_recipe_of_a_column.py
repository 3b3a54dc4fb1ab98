"""The recipe "A sheet column" of DEVELOPERS.md, followed in a copy of the package.

A numeric column and a count are added in the two places that the recipe names. From there on
they must reach the study, the history, the design matrix and the written table by themselves.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).parents[2]
COLUMNS = """        _plain("shelf", "id", "S1", "Shelf of the sheet"""
ADDED = """        _plain("depth_mm", "number", "25", "Depth of the soil", unit="mm"),
        _plain("stones", "count", "2", "Stones put in", unit="stones"),
"""
WORDS = '''        "shelf_temperature": "'''
LISTED = """        "depth_mm": "depth of the soil",
        "stones": "stones put in",
"""
SHEETS = {
    "foundings.csv": "founding,genus,started,queens,depth_mm,stones\n"
    "K1-01,Lasius,2026-07-04,1,10,0\nK1-02,Lasius,2026-07-04,3,30,\n"
    "K1-03,Lasius,2026-07-04,3,20,2\nK1-04,Lasius,2026-07-04,1,,2\n",
    "checks.csv": "founding,date,queens_alive,workers\n"
    + "".join(f"K1-0{i},2026-07-08,1,0\n" for i in (1, 2, 3, 4)),
    "study.toml": 'season = "2026"\nadjust = {first_worker = ["depth_mm", "stones"]}\n',
}
SCRIPT = """
import datetime as dt
import sys
from pathlib import Path

from cohort.history import history
from cohort.model.covariates import covariate_columns
from cohort.nonparametric.counts import derived
from cohort.sheets.written import write
from cohort.study import read_study

here = Path(sys.argv[1])
study = read_study(here / "study", today=dt.date(2026, 7, 15))
past = history(study)
made = covariate_columns(past.foundings, study.settings.adjust)
print(made.names, made.x.round(3).T.tolist(), list(made.notes))
print(write(derived(past).drop(columns="keeper"), "foundings", here / "out.csv").read_text())
"""


def insert(path: Path, before: str, text: str) -> None:
    """Put text into a source file, once, before what must stand there."""
    source = path.read_text("utf-8")
    assert source.count(before) == 1, before
    path.write_text(source.replace(before, text + before), "utf-8")


def run(place: Path) -> subprocess.CompletedProcess[str]:
    (place / "study").mkdir()
    for name, text in SHEETS.items():
        (place / "study" / name).write_text(text, "utf-8")
    environment = {**os.environ, "PYTHONPATH": str(place)}
    words = [sys.executable, "-c", SCRIPT, str(place)]
    return subprocess.run(words, capture_output=True, text=True, env=environment, cwd=place)


def copied(place: Path) -> Path:
    skip = shutil.ignore_patterns("__pycache__")
    shutil.copytree(ROOT / "cohort", place / "cohort", ignore=skip)
    return place / "cohort" / "terms"


def test_two_places_bring_a_column_from_the_sheet_to_the_design(tmp_path):
    terms = copied(tmp_path)
    insert(terms / "contract.py", COLUMNS, ADDED)
    insert(terms / "words.py", WORDS, LISTED)
    done = run(tmp_path)
    assert done.returncode == 0, done.stderr
    told, head, *rows = done.stdout.splitlines()
    # depths 10, 30, 20 and a blank at their mean: SD sqrt(200/4); stones 0, mean 4/3, 2, 2
    assert told.startswith("('depth_mm', 'stones') [[-1.414, 1.414, 0.0, 0.0], ")
    assert "[-1.633, 0.0, 0.816, 0.816]" in told
    assert "1 founding without 'depth_mm': taken as average." in told
    at = [head.split(",").index(name) for name in ("depth_mm", "stones")]
    assert [[row.split(",")[i] for i in at] for row in rows[:4]] == [
        ["10", "0"], ["30", ""], ["20", "2"], ["", "2"],
    ]  # fmt: skip


def test_the_second_place_is_needed(tmp_path):
    insert(copied(tmp_path) / "contract.py", COLUMNS, ADDED)
    done = run(tmp_path)
    assert done.returncode
    assert "'depth_mm' is not one of feeding, housing, mating_seen" in done.stderr
