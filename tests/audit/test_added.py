"""What the audit says of new rows: nothing that was found before, by one look where it can."""

import pytest
from planted import PLANTED

import cohort.audit
from cohort.audit.added import new_findings, with_file
from cohort.sheets.folder import read_folder

pytestmark = pytest.mark.quick


@pytest.fixture
def examined(monkeypatch):
    """How often a study was examined."""
    times = []
    audit = cohort.audit.audit
    monkeypatch.setattr(cohort.audit, "audit", lambda sheets: times.append(1) or audit(sheets))
    return times


def error(finding) -> bool:
    return finding.level == "error"


@pytest.mark.parametrize("case", PLANTED[::12], ids=lambda case: case.rule)
def test_new_findings_are_those_of_after_without_those_of_before(case, folder):
    before = read_folder(folder.path)
    for name, text in case.fault.items():
        folder.put(name, text)
    after = read_folder(folder.path)
    for first, then in ((before, after), (after, before), (after, after)):
        old = {str(finding) for finding in cohort.audit.audit(first)}
        new = [one for one in cohort.audit.audit(then) if str(one) not in old]
        assert new_findings(first, then) == new
        assert any(one.rule == case.rule for one in new) == (first is before)


def test_a_fault_on_a_new_row_needs_no_second_look(folder, examined):
    before = read_folder(folder.path)
    sheet = (folder.path / "checks.csv").read_bytes()
    after = with_file(before, "checks.csv", "checks", sheet + b"K2-01,2026-07-15,9,0\n")
    (one,) = new_findings(before, after, error)
    assert (one.rule, one.row) == ("count-rises", len(sheet.splitlines()) + 1)
    assert len(examined) == 1


def test_an_old_fault_is_not_told_again(folder, examined):
    sheet = (folder.path / "checks.csv").read_bytes() + b"K2-01,2026-07-15,9,0\n"
    (folder.path / "checks.csv").write_bytes(sheet)
    before = read_folder(folder.path)
    after = with_file(before, "checks.csv", "checks", sheet + b"K2-02,2026-07-14,3,0\n")
    assert new_findings(before, after, error) == []
    assert len(examined) == 2
    # a row of last week that a new one puts in the wrong is new, and stands on an old row
    fewer = with_file(before, "checks.csv", "checks", sheet + b"K2-02,2026-07-06,1,0\n")
    assert [(one.rule, one.founding) for one in new_findings(before, fewer, error)] == [
        ("count-rises", "K2-02")
    ]
    assert len(examined) == 4


def test_what_nobody_asks_for_is_not_looked_for(folder, examined):
    sheet = (folder.path / "checks.csv").read_bytes()
    before = read_folder(folder.path)
    after = with_file(before, "checks.csv", "checks", sheet + b"K2-02,2026-07-14,3,0\n")
    assert new_findings(before, after, lambda finding: False) == []
    assert len(examined) == 1
