"""Ordinary mistakes: each is told with its place, its fault and its remedy, and loses no row."""

import csv
import io
import re
from pathlib import Path

import pytest
from mistakes import MISTAKES, TODAY, season, table, told

from cohort.audit import audit
from cohort.base.errors import LEVELS
from cohort.desk.log import log_message
from cohort.sheets.folder import read_folder
from cohort.study import read_study

TABLE = Path(__file__).with_name("mistakes.md")


EACH = pytest.mark.parametrize(
    "number", range(len(MISTAKES)), ids=[mistake.name for mistake in MISTAKES]
)


def test_there_are_as_many_as_a_season_has():
    assert len(MISTAKES) >= 55
    assert len({mistake.name for mistake in MISTAKES}) == len(MISTAKES)


def test_what_is_said_of_each_is_what_the_table_holds():
    assert table() == TABLE.read_text("utf-8")


def test_the_season_without_a_mistake_has_none(tmp_path):
    assert list(audit(read_folder(season(tmp_path, {})), TODAY)) == []


@EACH
def test_place_fault_and_remedy_are_named(number):
    found = told(number).findings
    assert found
    assert found[0].level in LEVELS
    for finding in found:
        assert finding.file
        assert finding.row or finding.column or finding.rule == "file-not-read"
        assert finding.what.endswith((".", ")"))
        assert finding.remedy.endswith((".", "?"))
        assert finding.remedy != "Nothing to do." or finding.level == "note"
        assert len(finding.what) + len(finding.remedy) < 330  # it is read on a phone, too


@EACH
def test_one_mistake_is_one_error(number):
    """A heap of followers would hide it; a date of notes takes the line below it along."""
    errors = [finding for finding in told(number).findings if finding.level == "error"]
    assert len(errors) <= (2 if MISTAKES[number].name.startswith("note: a date") else 1)


@EACH
def test_no_row_is_lost_and_nothing_is_altered(number):
    seen = told(number)
    assert seen.after == seen.before
    known = seen.rows | {(f.file, f.row) for f in seen.findings}
    for name, data in seen.before.items():
        text = data.decode()
        if name.endswith(".csv"):
            reader, last = csv.reader(io.StringIO(text)), 1
            next(reader)
            for cells in reader:
                at = (name, last + 1)
                last = reader.line_num
                assert at in known or (name, 0) in known or not any(cells), (at, cells)
    for place, line in enumerate(seen.before["checks-K2.txt"].decode().splitlines(), 1):
        at = ("checks-K2.txt", place)
        assert at in known or not line or line.startswith("2026-"), (at, line)


def test_what_is_proposed_for_a_count_is_taken(tmp_path):
    """The first remedies, followed to the letter, leave the season without an error."""
    for typed, better in (
        ("three", "3"), ("3 queens", "3"), ("ca. 3", "3"), ("2-3", "2+"), ("dead", "0"),
    ):  # fmt: skip
        place = tmp_path / typed.replace(" ", "-")
        place.mkdir()
        season(place, {"checks-K1.csv": f"+K1-02,2026-07-14,{typed},0,,,\n"})
        [found] = audit(read_folder(place), TODAY)
        assert better in re.findall(r"[0-9]+\+?", found.remedy), found.remedy
        season(place, {"checks-K1.csv": f"+K1-02,2026-07-14,{better},0,,,\n"})
        assert list(audit(read_folder(place), TODAY)) == []


def test_a_message_with_a_mistake_writes_nothing_and_the_mended_one_all(tmp_path):
    place = season(tmp_path, {})
    before = len(read_study(place).checks)
    with pytest.raises(Exception, match="message, row 3: 'K2-02 dead' is not understood"):
        log_message(place, b"2026-07-14\nK2-01 1 0\nK2-02 dead\n")
    assert len(read_study(place).checks) == before
    log_message(place, b"2026-07-14\nK2-01 1 0\nK2-02 0 0\n")
    assert len(read_study(place).checks) == before + 2
