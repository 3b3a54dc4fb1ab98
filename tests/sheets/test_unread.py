"""Files that look like a sheet of the study and are not read."""

import re

import pytest

from cohort.audit import audit, examine
from cohort.audit.letters import letters
from cohort.base.errors import StudyError
from cohort.sheets.folder import read_folder
from cohort.study import read_study

LOOKS = "founding,date,queens_alive,workers\nK2-01,2026-07-15,1,0\nK2-02,2026-07-15,3,0\n"
OF_K3 = "founding,genus,started,queens,keeper\nK3-01,Messor,2026-07-13,2,K3\n"
NOTES = "2026-07-15\nK2-01 1 0\nK2-02 3 0\n"


def told(folder):
    return [n for n in read_folder(folder.path).notices if n.rule == "file-not-read"]


# name, text, what it is taken for, the name proposed
LIKE_OURS = [
    ("Anna_checks_final.csv", LOOKS, "checks (2 rows)", "checks-K2-Anna-final.csv"),
    ("chekcs-K2.csv", LOOKS, "checks (2 rows)", "checks-K2-chekcs.csv"),
    ("Kopie von checks.csv", LOOKS.replace(",", ";"), "checks (2 rows)", "checks-K2-Kopie-von.csv"),
    ("final.tsv", LOOKS.replace(",", "\t"), "checks (2 rows)", "checks-K2-final.csv"),
    ("notes July.txt", NOTES, "checks (2 rows)", "checks-K2-notes-July.txt"),
    (
        "my events.csv",
        "Founding,Date,Event\nK2-02,2026-07-14,fight\n",
        "events (1 row)",
        "events-K2-my.csv",
    ),
    ("New foundings.csv", OF_K3, "foundings (1 row)", "foundings-New.csv"),
    (
        "shelf.csv",
        "shelf,date,min_c,max_c\nS1,2026-07-08,20,25\n",
        "temperatures (1 row)",
        "temperatures-shelf.csv",
    ),
]


@pytest.mark.parametrize(("name", "text", "taken", "proposed"), LIKE_OURS)
def test_it_is_a_warning_and_the_name_proposed_is_read(name, text, taken, proposed, folder, today):
    folder.put(name, text)
    (notice,) = told(folder)
    assert (notice.level, notice.file) == ("warning", name)
    assert f"looks like a sheet {taken}" in notice.what
    assert f"call it {proposed};" in notice.remedy
    assert re.escape(notice.founding) in ("", re.escape("K2-01"), re.escape("K2-02"))
    before = len(read_folder(folder.path).sources)
    (folder.path / name).rename(folder.path / proposed)
    assert told(folder) == []
    assert len(read_folder(folder.path).sources) == before + 1
    assert [f for f in audit(read_folder(folder.path), today) if f.level == "error"] == []


def test_each_keeper_whose_numbers_it_holds_is_written_to(folder, today):
    folder.put("foundings-K3.csv", OF_K3)
    folder.put("checks-K3.csv", "founding,date,queens_alive\nK3-01,2026-07-14,2\n")
    folder.put("Anna_checks_final.csv", LOOKS + "K3-01,2026-07-15,2,0\n")
    made = examine(read_folder(folder.path), today)
    written = letters(made.findings, made.tables["foundings"], "A club", today)
    assert set(written) == {"K2", "K3"}
    assert all(
        "Anna_checks_final.csv" in text and "Please look" in text for text in written.values()
    )


def test_a_name_that_is_taken_is_not_proposed(folder):
    folder.put("checks-K2.csv", LOOKS)
    folder.put("K2 checks.csv", LOOKS)
    assert "call it checks-K2-2.csv;" in told(folder)[0].remedy


@pytest.mark.parametrize(
    ("name", "text", "level", "says"),
    [
        ("finds.csv", "place,light\nyard,yes\n", "note", "let its name begin with"),
        ("diary.txt", "Warm night, nothing flew.\n", "note", "begin with 'checks'"),
        ("own.csv", "Nr;Queens\nK2-01;1\n", "warning", "cohort bring"),
        ("study old.toml", "horizon_days = 160\n", "warning", "study.toml"),
        ("tool.toml", "[tool]\nx = 1\n", "note", "study.toml"),
        ("broken.toml", "x = = 1\n", "note", "study.toml"),
        ("K2.numbers", "PK", "warning", "save it as .xlsx"),
        ("blank.csv", "", "note", "let its name begin with"),
    ],
)
def test_what_else_lies_there(name, text, level, says, folder):
    folder.put(name, text)
    (notice,) = told(folder)
    assert (notice.level, notice.file) == (level, name)
    assert says in notice.remedy


def test_a_study_bears_what_was_not_read(folder, today):
    assert read_study(folder.path, today=today).not_read == ()
    folder.put("Anna_checks_final.csv", LOOKS)
    study = read_study(folder.path, today=today)
    (line,) = study.not_read
    assert line.startswith("Anna_checks_final.csv: It looks like a sheet checks")
    assert "Anna_checks_final.csv" in repr(study)


def test_a_folder_with_nothing_but_such_a_file_says_so(tmp_path):
    (tmp_path / "Anna_foundings.csv").write_text(OF_K3, "utf-8")
    with pytest.raises(StudyError, match=r"call it foundings-Anna\.csv"):
        read_folder(tmp_path)
