"""A look corrected: the old row stays, the last correction is read, the audit shows both."""

import datetime as dt

import pytest

from cohort.audit import audit
from cohort.base.errors import SheetError, StudyError
from cohort.cli import main
from cohort.desk.correct import correct
from cohort.desk.log import log_look
from cohort.desk.undo import undo
from cohort.history import history
from cohort.sheets.folder import read_folder
from cohort.study import read_study

LOOKS = """\
founding,date,queens_alive,workers,brood,note
K1-01,2024-07-08,1,0,,
K1-03,2024-07-08,3,0,eggs,
K1-03,2024-07-12,3,0,larvae,calm
rest,2024-07-12,same,,,
K1-03,2024-07-16,3,2,,
"""


@pytest.fixture
def study(tmp_path):
    (tmp_path / "foundings-K1.csv").write_text(
        "founding,genus,started,queens,keeper\nK1-01,Lasius,2024-07-04,1,K1\n"
        "K1-03,Lasius,2024-07-04,3,K1\n", "utf-8")  # fmt: skip
    (tmp_path / "checks-K1.csv").write_text(LOOKS, "utf-8")
    return tmp_path


def looks(study, number="K1-03"):
    made = read_study(study).checks
    mine = made[made["founding"] == number]
    return [
        (f"{row.date:%m-%d}", row.queens_alive, row.workers, row.brood, row.note)
        for row in mine.fillna(-1).itertuples()
    ]


def told(study, rule):
    return [f for f in audit(read_folder(study)) if f.rule == rule]


def test_the_corrected_row_is_read_and_both_are_shown(study):
    correct(study, "K1-03", "2024-07-16", {"queens_alive": "2"})
    assert looks(study)[-1] == ("07-16", 2, 2, "", "")
    assert (study / "checks-K1.csv").read_text("utf-8") == LOOKS
    added = (study / "checks-K1-corrections.csv").read_text("utf-8").splitlines()
    assert added[0].endswith(",corrects")
    assert added[1] == "K1-03,2024-07-16,2,2,,,,,,2024-07-16"
    [note] = told(study, "look-corrected")
    assert note.what == "K1-03 on 2024-07-16: 3 queens, corrected to 2."
    assert (note.level, note.file, note.row) == ("note", "checks-K1-corrections.csv", 2)
    assert "checks-K1.csv, row 6 stays" in note.remedy


def test_a_correction_keeps_what_was_right(study):
    correct(study, "K1-03", "2024-07-12", {"workers": "-", "brood": "pupae"})
    assert looks(study)[1] == ("07-12", 3, -1, "pupae", "calm")
    [note] = told(study, "look-corrected")
    assert note.what.endswith(
        "on 2024-07-12: 0 workers, corrected to blank; brood larvae, corrected to pupae."
    )


def test_of_several_corrections_the_last_one_stands(study):
    for alive in ("2", "1", "2"):  # back to what was said before: that too is a correction
        assert correct(study, "K1-03", "2024-07-16", {"queens_alive": alive}).rows == 1
    assert looks(study)[-1][1] == 2
    whats = [note.what for note in told(study, "look-corrected")]
    assert [what.split(": ")[1] for what in whats] == [
        "3 queens, corrected to 2.", "2 queens, corrected to 1.", "1 queen, corrected to 2.",
    ]  # fmt: skip
    undo(study)
    assert looks(study)[-1][1] == 1


def test_a_day_can_be_wrong_too(study):
    correct(study, "K1-03", "2024-07-12", {}, new_date="2024-07-11")
    assert [look[0] for look in looks(study)] == ["07-08", "07-11", "07-16"]  # and not by `rest`
    assert "the day, corrected to 2024-07-11" in told(study, "look-corrected")[0].what
    correct(study, "K1-03", "2024-07-11", {"queens_alive": "2+"})
    assert looks(study)[1] == ("07-11", 2, 0, "larvae", "calm")
    with pytest.raises(StudyError, match="no look at K1-03 on 2024-07-12"):
        correct(study, "K1-03", "2024-07-12", {"queens_alive": "2"})


def test_a_look_by_rest_is_corrected_by_a_row_of_its_own(study):
    correct(study, "K1-01", "2024-07-12", {"queens_alive": "0"})
    assert looks(study, "K1-01") == [("07-08", 1, 0, "", ""), ("07-12", 0, 0, "", "")]
    assert "as at the look before (rest), corrected to 0 queens" in (
        told(study, "look-corrected")[0].what
    )


@pytest.mark.parametrize(
    ("number", "day", "right", "words"),
    [
        ("K1-03", "2024-07-13", {"queens_alive": "2"}, "looked at on 2024-07-08, 2024-07-12, 2024"),
        ("K1-09", "2024-07-12", {"queens_alive": "2"}, "no look at K1-09|no founding 'K1-09'"),
        ("K1-03", "2024-07-12", {"queens_alive": "3"}, "says so already"),
        ("K1-03", "7/8/2024", {"queens_alive": "2"}, "could be"),
        ("rest", "2024-07-12", {"workers": "0"}, "by its number"),
    ],
)
def test_what_cannot_be_corrected_is_said_and_nothing_written(number, day, right, words, study):
    with pytest.raises(StudyError, match=words):
        correct(study, number, day, right)
    assert not (study / "checks-K1-corrections.csv").exists()


def test_a_correction_is_audited_like_any_look(study):
    with pytest.raises(SheetError, match="4 queens alive, but 3"):
        correct(study, "K1-03", "2024-07-12", {"queens_alive": "4"})
    assert not (study / "checks-K1-corrections.csv").exists()


def test_the_history_is_that_of_a_sheet_that_was_right_from_the_start(study, tmp_path_factory):
    right = tmp_path_factory.mktemp("right")
    (right / "foundings-K1.csv").write_bytes((study / "foundings-K1.csv").read_bytes())
    (right / "checks-K1.csv").write_text(
        LOOKS.replace("07-16,3,2", "07-16,1,4").replace("07-12,3,0", "07-12,2,0"), "utf-8"
    )
    wrong = history(read_study(study))
    correct(study, "K1-03", "2024-07-16", {"queens_alive": "1", "workers": "4"})
    correct(study, "K1-03", "2024-07-12", {"queens_alive": "2"})
    ours, theirs = history(read_study(study)), history(read_study(right))
    assert ours.foundings.equals(theirs.foundings)
    assert ours.intervals.equals(theirs.intervals)
    assert not wrong.intervals.equals(theirs.intervals)


def test_a_cell_that_cannot_be_read_is_mended_by_a_correction(study):
    (study / "checks-K1.csv").write_text(LOOKS.replace("07-16,3,2", "07-16,three,2"), "utf-8")
    assert [f.rule for f in audit(read_folder(study)) if f.level == "error"] == ["not-a-count"]
    correct(study, "K1-03", "2024-07-16", {"queens_alive": "3"})
    assert looks(study)[-1][1] == 3


@pytest.mark.parametrize(
    ("row", "rule"),
    [
        ("K1-03,2024-07-20,2,2,2024-07-19", "corrects-nothing"),
        ("rest,2024-07-12,same,,2024-07-12", "corrects-rest"),
        ("K1-03,2024-07-20,2,2,soon", "not-a-date"),
    ],
)
def test_a_correction_by_hand_of_nothing_is_an_error(row, rule, study):
    (study / "checks-K1-more.csv").write_text(
        f"founding,date,queens_alive,workers,corrects\n{row}\n", "utf-8"
    )
    errors = [f for f in audit(read_folder(study), dt.date(2024, 9, 1)) if f.level == "error"]
    assert [(f.rule, f.row, f.column) for f in errors] == [(rule, 2, "corrects")]
    assert errors[0].remedy


def test_a_row_logged_after_a_correction_is_told_and_replaced(study):
    correct(study, "K1-03", "2024-07-16", {"queens_alive": "2"})
    log_look(study, "K1-03", {"queens_alive": "2", "workers": "2"}, date="2024-07-16")
    assert [look[1] for look in looks(study)] == [3, 3, 2]


def test_the_command(study, capsys):
    for words, code, said in (
        (["--correct", "K1-03", "2024-07-16", "--alive", "2"], 0, "3 queens, corrected to 2"),
        (["--correct", "K1-03", "2024-07-16", "--alive", "2"], 1, "says so already"),
        (["--correct", "K1-03", "2024-07-16"], 2, "what is right"),
        (["--correct", "K1-03", "--alive", "2"], 2, "what is right"),
        (["--correct", "K1-03", "2024-07-16", "--event", "fight"], 2, "what is right"),
        (["K1-03", "2024-07-16", "--alive", "2"], 2, "--correct only"),
        (["--undo", "--correct", "K1-03", "2024-07-16"], 2, "--undo"),
        (["--undo"], 0, "Taken out of checks-K1-corrections.csv"),
    ):
        with pytest.raises(SystemExit) as end:
            main(["log", str(study), *words])
        out = capsys.readouterr()
        flat = " ".join((out.out + out.err).replace("│", " ").split())
        assert (end.value.code, said in flat) == (code, True), (words, out)
