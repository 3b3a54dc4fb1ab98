"""Findings in print: like ones together, nothing lost; letters to keepers."""

import datetime as dt

import pandas as pd

from cohort.audit.letters import file_name, letters
from cohort.audit.show import counted, grouped, lines
from cohort.base.errors import Finding, SheetError


def finding(row: int, what: str = "no genus", level="error", founding="", file="foundings.csv"):
    return Finding(
        level=level,
        rule="r",
        file=file,
        row=row,
        column="genus",
        founding=founding,
        what=what,
        remedy="Mend it.",
    )


def test_like_findings_are_one_group_with_all_rows():
    found = [finding(3), finding(9), finding(4, level="note"), finding(12)]
    groups = grouped(found)
    assert [len(group.findings) for group in groups] == [3, 1]
    assert groups[0].where == "foundings.csv, rows 3, 9, 12, genus"
    assert groups[0].what == "no genus"


def test_long_groups_name_some_rows_and_count_the_rest():
    groups = grouped([finding(row, what=f"fault {row}") for row in range(2, 22)])
    assert "2, 3, 4, 5, 6, 7, 8, 9 and 12 more" in groups[0].where
    assert groups[0].what == "20 like this; the first: fault 2"


def test_every_finding_can_be_shown_and_lines_keep_their_width():
    found = [finding(row, what="word " * 40) for row in (3, 9)]
    assert sum("row 3" in line or "row 9" in line for line in lines(found, every=True)) == 2
    assert max(map(len, lines(found, width=60))) <= 60


def test_counts_in_words():
    assert counted([]) == "nothing to correct"
    assert counted([finding(1), finding(2), finding(3, level="note")]) == "2 errors, 1 note"


def test_error_of_sheets_tells_all():
    fault = SheetError([finding(3), finding(9), finding(4, level="note")])
    assert len(fault.findings) == 3
    assert "2 errors" in str(fault)
    assert "row 9" in str(fault)
    assert str(SheetError([finding(3)])) == "foundings.csv, row 3, genus: no genus Mend it."


def test_each_keeper_gets_what_is_theirs():
    table = pd.DataFrame(
        {
            "founding": ["K2-01", "K3-01"],
            "keeper": ["K2", "K3"],
            "file": ["foundings-K2.csv", "foundings-K3.csv"],
        }
    )
    found = [
        finding(2, what="fault one", founding="K2-01", file="foundings-K2.csv"),
        finding(3, what="fault two", file="checks-K3.txt"),
        finding(4, what="fault three", file="study.toml", level="warning"),
    ]
    written = letters(found, table, "A club", dt.date(2026, 7, 15))
    assert set(written) == {"K2", "K3", ""}
    assert "fault one" in written["K2"]
    assert "fault two" not in written["K2"]
    assert "fault two" in written["K3"]
    assert "fault three" in written[""]
    assert '"A club"' in written["K2"]
    assert "1 error." in written["K2"]


def test_names_of_letters_hold_no_path():
    assert file_name("K2") == "letter-K2.txt"
    assert file_name("../a b") == "letter-a_b.txt"
    assert file_name("") == "letter-club.txt"


def test_findings_are_counted_by_file_for_who_wants_to_begin_somewhere():
    from cohort.audit.show import by_file
    from cohort.base.errors import Finding

    def one(level, file):
        return Finding(level=level, rule="r", what="w", remedy="", file=file)

    found = [one("error", "b.csv"), one("note", "a.csv"), one("error", "b.csv"), one("warning", "")]
    assert by_file(found) == [
        ("the study", "0", "1", "0"),
        ("a.csv", "0", "0", "1"),
        ("b.csv", "2", "0", "0"),
    ]
    assert by_file([]) == []
