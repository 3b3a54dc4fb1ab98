"""Each rule finds its planted fault at the right place; the clean twin yields nothing."""

import datetime as dt
import re
from collections.abc import Mapping

import pytest
from planted import PLANTED, Planted

from cohort.audit import audit
from cohort.base.errors import Finding
from cohort.sheets.folder import read_folder
from cohort.terms.voice import Said, in_language, languages

ENGLISH = re.compile(r"(?<![\w-])(the|is|are|were|of|to|with|write|look)(?![\w-])", re.I)


def findings(folder, files: Mapping[str, str], today: dt.date) -> list[Finding]:
    for name, text in files.items():
        folder.put(name, text)
    return list(audit(read_folder(folder.path), today))


def _name(case: Planted) -> str:
    return f"{case.rule}-{case.file.split('.')[0]}-{case.column or 'row'}"


@pytest.mark.parametrize("case", PLANTED, ids=_name)
def test_fault_is_found_at_its_place(case, folder, today):
    found = findings(folder, case.fault, today)
    told = [(f.rule, f.level, f.file, f.row, f.column) for f in found]
    assert (case.rule, case.level, case.file, case.row, case.column) in told
    mine = next(f for f in found if f.rule == case.rule)
    assert mine.what.endswith((".", "'", ")"))
    assert mine.remedy
    for language in languages():
        _in_a_language(mine, language)


def _in_a_language(finding: Finding, language: str) -> None:
    """It is told in the language, with what it quotes and nothing else in English."""
    quoted = re.compile(r"['„«“]\s?[^'“»”]*[”“»']|[\w-]+\.(?:csv|txt|toml)")
    for text in (finding.what, finding.remedy):
        assert isinstance(text, Said), text
        told = in_language(text, language)
        if language != "en":
            assert told != text
            assert not ENGLISH.search(quoted.sub("", told)), told
        for digits in re.findall(r"\d[\d-]+\d", text):  # days and numbers of the sheets
            assert digits in told


@pytest.mark.parametrize("case", PLANTED, ids=_name)
def test_fault_brings_no_others_of_its_level(case, folder, today):
    # One slip of the pen is one finding; a heap of followers would hide it.
    found = findings(folder, case.fault, today)
    same = [f for f in found if f.level == case.level]
    assert {f.rule for f in same} == {case.rule}


@pytest.mark.parametrize("case", PLANTED, ids=_name)
def test_clean_twin_yields_nothing(case, folder, today):
    assert findings(folder, case.twin, today) == []


def test_the_small_study_is_clean(folder, today):
    assert findings(folder, {}, today) == []


def test_date_order_settles_a_date_that_could_be_two(folder, today):
    added = {"checks.csv": "+K2-02,12/07/2026,3,0\n"}
    assert [f.rule for f in findings(folder, added, today)] == ["date-ambiguous"]
    assert findings(folder, {"study.toml": 'date_order = "dmy"\n'}, today) == []
    folder.put("study.toml", 'date_order = "mdy"\n')  # then it is the 7th of December
    assert [f.rule for f in audit(read_folder(folder.path), today)] == ["date-after-today"]


def test_all_findings_are_told_and_not_the_first(folder, today):
    found = findings(
        folder,
        {
            "foundings.csv": "+K2-03,Lasuis,2026-07-06,2,K2\nK2-04,Lasius,03/04/2026,2,K2\n",
            "checks.csv": "+K2-02,2026-07-15,4,0\nK2-09,2026-07-15,1,0\n",
        },
        today,
    )
    errors = {(f.rule, f.file, f.row) for f in found if f.level == "error"}
    assert errors == {
        ("genus-unknown", "foundings.csv", 4),
        ("date-ambiguous", "foundings.csv", 5),
        ("count-rises", "checks.csv", 6),
        ("id-unknown", "checks.csv", 7),
    }


def test_a_founding_without_a_day_brings_no_long_gap(folder, today):
    added = {
        "foundings.csv": "+K2-03,Lasius,soon,2,K2\n",
        "checks.csv": "+K2-03,2026-07-08,2,0\n",
    }
    assert [f.rule for f in findings(folder, added, today)] == ["not-a-date"]


def test_misspelt_words_get_a_close_match(folder, today):
    found = findings(
        folder,
        {
            "foundings.csv": "founding,genus,started,queens,arm\n"
            "K2-01,Lasuis,2026-07-04,1,singel\nK2-02,Lasius,2026-07-04,3,multi\n",
            "events.csv": "founding,date,event\nK2-02,2026-07-14,figth\n",
        },
        today,
    )
    hints = {f.column: f.remedy for f in found}
    assert "Did you mean 'Lasius'?" in hints["genus"]
    assert "Did you mean 'single'?" in hints["arm"]
    assert "Did you mean 'fight'?" in hints["event"]


def test_every_rule_of_the_house_has_a_planted_fault():
    # Rule names are taken from the source, so that a new rule without a fault shows here.
    import re
    from pathlib import Path

    import cohort.audit
    import cohort.sheets

    told: set[str] = set()
    # Readers of workbooks, notes and lists have tests of their own.
    readers = ("text", "delimited", "setting", "folder", "unread")
    for package in (cohort.audit, cohort.sheets):
        for path in Path(package.__file__).parent.glob("*.py"):
            if package is cohort.sheets and path.stem not in readers:
                continue
            text = path.read_text("utf-8")
            told |= set(re.findall(r'rule="([a-z0-9-]+)"', text))
            told |= set(re.findall(r'Problem\(\s*"([a-z0-9-]+)"', text))
    elsewhere = {"encoding", "damaged-file", "unreadable-row"}  # test_delimited
    elsewhere |= {"not-a-file", "not-a-sheet", "cell-too-long"}  # sheets/test_guards
    elsewhere |= {"allotted-row"}  # it takes a workbook: tests/allot/test_round_trip
    assert told - elsewhere == {case.rule for case in PLANTED}
