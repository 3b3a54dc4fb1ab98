"""The table of sources is whole: every check has its line, every line its file.

It is held against the folders, the quantities that are printed and the commands that compute, so
that a check, an outcome or a command that comes without a source is seen.
"""

import re
from pathlib import Path

import pytest
import typer

from cohort.cli import build
from cohort.terms.questions import QUANTITIES

HERE = Path(__file__).parent
TESTS = HERE.parent
README = (HERE / "README.md").read_text("utf-8")
HEAD = ["check", "holds", "source", "read", "tolerance and why", "file"]
READ = set("RDMWP")
FOLDERS = ("published", "by_hand", "against")
#: Commands whose numbers come from the model or the simulator; the others only write and read.
COMPUTE = {"compare", "plan", "due", "power", "tonight"}


def lines_of(text):
    """Rows of all tables, as dicts."""
    rows = [
        [cell.strip() for cell in line.strip().strip("|").split("|")]
        for line in text.splitlines()
        if line.startswith("|") and not line.startswith("|---")
    ]
    return [dict(zip(HEAD, row, strict=True)) for row in rows if row != HEAD]


def lacking(text, files):
    """What the table of sources lacks or has too much."""
    rows = lines_of(text)
    named = {path: (HERE / path).resolve() for row in rows for path in re.findall(r"`([^`]+\.py)`",
             row["file"])}  # fmt: skip
    held = " ".join(row["holds"] + " " + row["check"] for row in rows)
    words = set(re.findall(r"`(\w+)`", held))
    commands = set(typer.main.get_command(build()).commands) & COMPUTE
    headings = " ".join(re.findall(r"^## .*$", text, re.MULTILINE))
    return {
        "files without a line": sorted(
            str(path.relative_to(TESTS)) for path in files - set(named.values())
        ),
        "lines without a file": sorted(p for p, path in named.items() if not path.is_file()),
        "quantities": sorted({name for _, name in QUANTITIES} - words),
        "commands": sorted(commands - words - set(re.findall(r"`(\w+)`", headings))),
        "how it was read": [row["check"] for row in rows if row["read"] not in READ],
        "blank": [row["check"] for row in rows if not all(row.values())],
    }


def files_there():
    files = {p.resolve() for folder in FOLDERS for p in (TESTS / folder).glob("test_*.py")}
    return files - {Path(__file__).resolve()}


def test_every_check_has_its_line_and_every_line_its_file():
    found = lacking(README, files_there())
    assert {key: gap for key, gap in found.items() if gap} == {}
    assert len(lines_of(README)) > 40


@pytest.mark.parametrize(
    ("old", "new", "seen"),
    [
        ("`test_weibull_mice.py`", "`test_weibull_rats.py`", "lines without a file"),
        ("`test_weibull_mice.py`", "`test_partial_pooling.py`", "files without a line"),
        ("`median_day`", "day", "quantities"),
        ("`workers_after_30_days`", "workers", "quantities"),
        ("`due`", "what is due", "commands"),
        ("| BUGS Examples vol. I; JAGS benchmark 3.2825 | R |", "| BUGS | ? |", "how it was read"),
        ("| McGilchrist and Aisbett 1991 | D |", "|  | D |", "blank"),
    ],
)
def test_a_table_with_a_gap_is_seen(old, new, seen):
    assert old in README
    assert lacking(README.replace(old, new), files_there())[seen]


def test_sources_beyond_those_folders_are_tests_too():
    for row in lines_of(README):
        for path in re.findall(r"`([^`]+\.py)`", row["file"]):
            assert re.search(r"^def test_", (HERE / path).read_text("utf-8"), re.MULTILINE), path
