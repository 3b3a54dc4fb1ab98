"""The table of what was timed: rows of a run in place of older ones, every column explained."""

import csv
import re

import pytest
from bench_table import COLUMNS, TABLE, keep, kept, line


@pytest.fixture
def rows(tmp_path):
    table = tmp_path / "results.csv"
    keep([line("a fit, slow", 'took "long"', seconds=2.0), line("a curve", "1 s")], table)
    return table


def test_a_run_writes_over_its_own_rows_and_leaves_the_others(rows):
    keep([line("a fit, slow", "quick", "3 x", seconds=0.5, per_second=80), line("new", "x")], rows)
    with rows.open(newline="") as lines:
        read = list(csv.DictReader(lines))
    assert [one["what"] for one in read] == ["a fit, slow", "a curve", "new"]
    assert [one["measured"] for one in read] == ["quick", "1 s", "x"]
    assert (read[0]["ratio"], read[0]["seconds"], read[0]["per_second"]) == ("3 x", "0.5", "80")
    assert all(float(one["loop_seconds"]) > 0 for one in read)
    assert kept([], rows) == read


def test_every_column_is_explained():
    text = (TABLE.parent / "README.md").read_text("utf-8")
    heads = [cell for cell in re.findall(r"^\| (`.*?) \|", text, re.MULTILINE)]
    named = re.findall(r"`(\w+)`", ", ".join(heads))
    assert tuple(named) == COLUMNS
    if TABLE.exists():
        with TABLE.open(encoding="utf-8", newline="") as lines:
            assert tuple(csv.DictReader(lines).fieldnames or ()) == COLUMNS
