"""`cohort log`: audit first, then a row that is never lost or torn."""

from __future__ import annotations

import datetime as dt
import re
import subprocess
import sys
import time
from pathlib import Path

import numpy as np
import pytest

from cohort.base.errors import CohortError, SheetError, StudyError
from cohort.desk.log import log_look, log_notes
from cohort.desk.whose import target
from cohort.sheets.append import EARLIER, versions
from cohort.sheets.delimited import read_delimited
from cohort.study import read_study

MAIN = "from cohort.cli import main; main()"
HEADS = "founding,genus,started,queens,keeper\n"


@pytest.fixture
def study(tmp_path: Path) -> Path:
    place = tmp_path / "study"
    place.mkdir()
    (place / "foundings-K1.csv").write_text(HEADS + "K1-01,Lasius,2024-01-01,1,K1\n")
    (place / "foundings-K2.csv").write_text(
        HEADS + "K2-01,Messor,2024-01-01,1,K2\nK2-02,Messor,2024-01-01,3,K2\n"
    )
    return place


def run(*words: str, **options: object) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-c", MAIN, *words],
        capture_output=True,
        text=True,
        timeout=120,
        check=False,
    )


def test_a_look_goes_into_the_file_of_its_keeper(study: Path) -> None:
    done = log_look(
        study, "K2-02", {"queens_alive": "3", "workers": "0", "note": "=1+1"}, date="2024-01-05"
    )
    assert [path.name for path in done.files] == ["checks-K2.csv"]
    log_look(study, "K1-01", {"queens_alive": "1", "workers": "0"}, date="2024-01-05")
    log_look(
        study,
        "K2-02",
        {"queens_alive": "2", "workers": "5+"},
        date="2024-01-09",
        event={"event": "killed", "number": "1", "other": "queens"},
    )
    looks = read_study(study).checks
    assert looks["founding"].tolist() == ["K1-01", "K2-02", "K2-02"]
    assert looks["queens_alive"].tolist() == [1, 3, 2]
    assert looks["note"].tolist() == ["", "=1+1", ""]
    assert "'=1+1" in (study / "checks-K2.csv").read_text()
    assert read_study(study).events["event"].tolist() == ["killed"]


def test_today_is_the_day_when_none_is_given(study: Path) -> None:
    log_look(study, "K2-01", {"queens_alive": "1"})
    assert read_study(study).checks["date"].iloc[0].date() == dt.date.today()


@pytest.mark.parametrize(
    ("look", "date", "words"),
    [
        ({"queens_alive": "4"}, "2024-01-05", "4 queens"),
        ({"queens_alive": "three"}, "2024-01-05", "three"),
        ({"queens_alive": "3"}, "2023-12-01", "started only on"),
        ({"queens_alive": "3"}, "4/5/2024", "could be"),
        ({"queens_alive": "3"}, "2091-01-01", ""),
    ],
)
def test_a_row_with_an_error_is_not_written(
    look: dict[str, str], date: str, words: str, study: Path
) -> None:
    with pytest.raises(SheetError, match="Nothing was written") as told:
        log_look(study, "K2-02", look, date=date)
    assert words in str(told.value)
    assert not (study / "checks-K2.csv").exists()


@pytest.mark.parametrize(
    ("look", "words"),
    [
        ({"brood": "chicks"}, "none, eggs, larvae, pupae"),
        ({"fed": "perhaps"}, "yes, no"),
        ({"event": "killed", "other": "beetles"}, "queens, workers, unknown"),
        ({"event": "fights"}, "Did you mean 'fight'"),
    ],
)
def test_an_unknown_word_is_refused_with_the_words_there_are(
    look: dict[str, str], words: str, study: Path
) -> None:
    event = {name: look.pop(name) for name in ("event", "other") if name in look}
    with pytest.raises(SheetError, match="Nothing was written") as told:
        log_look(study, "K2-02", {"queens_alive": "3", **look}, event=event, date="2024-01-05")
    assert words in str(told.value)
    assert "read as blank" not in str(told.value)
    assert "row 2" not in str(told.value)  # of a file that is not there
    assert {p.name for p in study.glob("*.csv")} == {"foundings-K1.csv", "foundings-K2.csv"}


def test_a_word_that_was_wrong_before_stops_no_good_row(study: Path) -> None:
    (study / "checks-K2.csv").write_text(
        "founding,date,queens_alive,workers,brood,note\nK2-02,2024-01-03,3,0,chicks,\n"
    )
    log_look(study, "K2-02", {"queens_alive": "3", "brood": "eggs"}, date="2024-01-05")
    assert read_study(study).checks["brood"].tolist() == ["", "eggs"]


def test_a_photograph_that_is_not_there_is_refused_with_the_place(study: Path) -> None:
    look = {"queens_alive": "3", "photo": "K2-02_0105.jpg"}
    with pytest.raises(StudyError, match="Nothing was written") as told:
        log_look(study, "K2-02", look, date="2024-01-05")
    assert str(study.resolve() / "K2-02_0105.jpg") in str(told.value)
    for name in ("../foundings-K1.csv", "notes.txt"):
        with pytest.raises(StudyError, match=r"ends in \.jpg, \.jpeg, \.png"):
            log_look(study, "K2-02", {**look, "photo": name}, date="2024-01-05")
    (study.parent / "outside.jpg").write_bytes(b"x")
    with pytest.raises(StudyError, match="no such file in the study"):
        log_look(study, "K2-02", {**look, "photo": "../outside.jpg"}, date="2024-01-05")
    assert not (study / "checks-K2.csv").exists()
    (study / "K2-02_0105.jpg").write_bytes(b"x")
    whole = str(study.resolve() / "K2-02_0105.jpg")
    with pytest.raises(StudyError, match=r"as it lies in the study: K2-02_0105\.jpg"):
        log_look(study, "K2-02", {**look, "photo": whole}, date="2024-01-05")
    log_look(study, "K2-02", look, date="2024-01-05")
    assert read_study(study).checks["photo"].tolist() == ["K2-02_0105.jpg"]


def test_only_the_keeper_of_what_was_logged_is_warned_of(study: Path) -> None:
    """The last look of all is the day up to which looks are expected: K1 seems late by it."""
    log_look(study, "K1-01", {"queens_alive": "1", "workers": "0"}, date="2024-01-03")
    log_look(study, "K2-02", {"queens_alive": "3", "workers": "0"}, date="2024-01-04")
    done = log_look(study, "K2-01", {"queens_alive": "1", "workers": "0"}, date="2024-06-01")
    from cohort.audit import audit
    from cohort.sheets.folder import read_folder

    late = {f.founding for f in audit(read_folder(study)) if f.level == "warning"}
    assert late == {"K1-01", "K2-01", "K2-02"}
    assert {f.founding for f in done.findings} == {"K2-01", "K2-02"}


# --- what is in already -------------------------------------------------------------------------


def test_the_same_notes_sent_three_times_are_written_once(
    study: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    from cohort.cli import main

    notes = tmp_path / "pocket.txt"
    notes.write_text(
        "2024-01-05\nK2-01 1 0\nK1-01 1 0 calm\nK2-02 3 0 mould\n2024-01-09\nK2-01 1 4\n"
    )
    said = []
    for _ in range(3):
        with pytest.raises(SystemExit) as done:
            main(["log", str(study), "--from", str(notes)])
        assert done.value.code == 0
        said.append(capsys.readouterr().out)
    assert "Wrote 5 rows" in said[0]
    assert "already" not in said[0]
    assert said[1] == said[2] == "5 rows were in already; nothing was written.\n"
    made = read_study(study)
    assert (len(made.checks), len(made.events)) == (4, 1)
    notes.write_text(notes.read_text() + "K2-02 3 5\n")
    done_ = log_notes(study, notes)
    assert (done_.rows, done_.already) == (1, 5)
    assert [path.name for path in done_.files] == ["checks-K2.csv"]


def test_what_is_in_is_known_however_it_is_spelled_and_wherever_it_stands(
    study: Path, tmp_path: Path
) -> None:
    (study / "checks-mine.csv").write_text(
        "Workers;Queens alive;date;founding;my own\n0;1;5 January 2024;K2-01;x\n"
    )
    done = log_look(study, "K2-01", {"queens_alive": "01", "workers": "0"}, date="20240105")
    assert (done.rows, done.already, done.files) == (0, 1, ())
    for other in ({"note": "calm"}, {"brood": "eggs"}):
        done = log_look(
            study, "K2-01", {"queens_alive": "1", "workers": "0", **other}, date="2024-01-05"
        )
        assert (done.rows, done.already) == (1, 0)  # it differs: added, and the audit's to judge
    with pytest.raises(SheetError, match="Nothing was written"):
        log_look(study, "K2-01", {"queens_alive": "0", "workers": "0"}, date="2024-01-05")


def test_rest_of_one_keeper_is_not_in_for_another(study: Path) -> None:
    for keeper in ("K1", "K2", "K2"):
        log_look(study, "rest", {"queens_alive": "same"}, date="2024-01-05", keeper=keeper)
    assert len((study / "checks-K1.csv").read_text().splitlines()) == 2
    assert len((study / "checks-K2.csv").read_text().splitlines()) == 2
    assert read_study(study).checks["founding"].tolist() == ["K1-01", "K2-01", "K2-02"]


@pytest.mark.parametrize("keeper_column", [True, False])
def test_rest_speaks_of_its_keeper_only_in_sheets_without_signs(
    keeper_column: bool, tmp_path: Path
) -> None:
    sign = [",K1", ",K2"] if keeper_column else [",", ","]
    (tmp_path / "foundings.csv").write_text(
        HEADS + f"K1-01,Lasius,2024-01-01,1{sign[0]}\nK2-01,Messor,2024-01-01,1{sign[1]}\n"
    )
    (tmp_path / "checks.csv").write_text(
        "founding,date,queens_alive,workers,note\nK1-01,2024-01-03,1,0,\n"
    )
    log_look(tmp_path, "rest", {"queens_alive": "same"}, date="2024-01-05", keeper="k2")
    looks = read_study(tmp_path).checks
    assert looks["founding"].tolist() == ["K1-01", "K2-01"]


# --- sheets that are links ----------------------------------------------------------------------


def test_a_sheet_that_is_a_link_stays_one_and_its_original_gets_the_row(
    study: Path, tmp_path: Path
) -> None:
    cloud = tmp_path / "cloud"
    cloud.mkdir()
    shared = cloud / "anna.csv"
    shared.write_text("founding,date,queens_alive,workers,note\nK2-01,2024-01-03,1,0,\n")
    shared.chmod(0o640)
    before = shared.read_bytes()
    (study / "checks-K2.csv").symlink_to(cloud / "again.csv")
    (cloud / "again.csv").symlink_to("anna.csv")
    log_look(study, "K2-01", {"queens_alive": "1"}, date="2024-01-05")
    assert (study / "checks-K2.csv").is_symlink()
    assert shared.read_bytes() == before + b"K2-01,2024-01-05,1,,\n"
    assert shared.stat().st_mode & 0o777 == 0o640
    assert [old.read_bytes() for old in versions(study / "checks-K2.csv")] == [before]
    assert {p.name for p in cloud.iterdir()} - {".writing.lock"} == {"anna.csv", "again.csv"}
    (cloud / ".~lock.anna.csv#").write_text("")
    with pytest.raises(StudyError, match="open in a spreadsheet"):
        log_look(study, "K2-01", {"queens_alive": "1"}, date="2024-01-07")


def test_two_studies_that_share_a_sheet_by_links_lose_no_row(study: Path, tmp_path: Path) -> None:
    other = tmp_path / "other"
    other.mkdir()
    (other / "foundings-K2.csv").write_bytes((study / "foundings-K2.csv").read_bytes())
    shared = tmp_path / "shared.csv"
    shared.write_text("founding,date,queens_alive,workers,note\n")
    for place in (study, other):
        (place / "checks-K2.csv").symlink_to(shared)
    both = [one_look(place, n) for n, place in enumerate([study, other] * 2)]
    for process in both:
        _, err = process.communicate(timeout=120)
        assert process.returncode == 0, err
    assert sorted(numbers(study)) == [0, 1, 2, 3]


def test_a_link_that_leads_nowhere_is_one_plain_message(study: Path, tmp_path: Path) -> None:
    sheet = study / "checks-K2.csv"
    for goal, words in (
        (tmp_path / "gone.csv", "there is no such file"),
        (sheet, "leads back to itself"),
        (tmp_path, "which is no file"),
    ):
        sheet.unlink(missing_ok=True)
        sheet.symlink_to(goal)
        with pytest.raises(StudyError, match=words) as told:
            log_look(study, "K2-01", {"queens_alive": "1"}, date="2024-01-05")
        assert "Nothing was written" in str(told.value)
        assert sheet.is_symlink()
    assert {p.name for p in study.glob("checks*")} == {"checks-K2.csv"}
    assert not (tmp_path / "gone.csv").exists()


def test_a_folder_of_the_study_that_is_a_link_is_not_followed(study: Path, tmp_path: Path) -> None:
    away = tmp_path / "away"
    away.mkdir()
    (study / EARLIER).symlink_to(away)
    with pytest.raises(StudyError, match="is a link"):
        log_look(study, "K2-01", {"queens_alive": "1"}, date="2024-01-05")
    assert list(away.iterdir()) == []


def test_an_unknown_founding_is_told_with_a_near_one(study: Path) -> None:
    with pytest.raises(StudyError, match="K2-02"):
        log_look(study, "K2-2", {"queens_alive": "3"}, date="2024-01-05")
    with pytest.raises(StudyError, match="Nothing to write"):
        log_look(study, "K2-02", {})
    with pytest.raises(StudyError, match="no folder"):
        log_look(study / "nowhere", "K2-02", {"queens_alive": "3"})


def test_errors_that_were_there_before_do_not_stop_a_good_row(study: Path) -> None:
    (study / "checks-K1.csv").write_text(
        "founding,date,queens_alive\nK1-01,2024-01-05,7\nK9-99,2024-01-05,1\n"
    )
    log_look(study, "K2-01", {"queens_alive": "1"}, date="2024-01-05")
    assert (study / "checks-K2.csv").exists()


def test_notes_of_several_keepers_are_shared_out(study: Path, tmp_path: Path) -> None:
    notes = tmp_path / "pocket.txt"
    notes.write_text("2024-01-05\nK2-01 1 0\nK1-01 1 0 calm\nK2-02 3 0 mould\n")
    done = log_notes(study, notes)
    assert {path.name for path in done.files} == {"checks-K1.csv", "checks-K2.csv", "events-K2.csv"}
    assert done.rows == 4
    notes.write_text("2024-01-09\nK2-01 1 0\nwhat was it\n")
    with pytest.raises(SheetError, match="Nothing was written"):
        log_notes(study, notes)
    assert len(versions(study / "checks-K2.csv")) == 0


def test_rest_needs_a_keeper(study: Path, tmp_path: Path) -> None:
    notes = tmp_path / "pocket.txt"
    notes.write_text("2024-01-05\nrest same\n")
    with pytest.raises(StudyError, match="--keeper"):
        log_notes(study, notes)
    log_notes(study, notes, keeper="K2")
    assert read_study(study).checks["founding"].tolist() == ["K2-01", "K2-02"]
    log_look(study, "rest", {"queens_alive": "same"}, date="2024-01-09", keeper="K1")
    assert "K1-01" in read_study(study).checks["founding"].tolist()


def test_a_note_file_inside_the_study_is_not_added_twice(study: Path) -> None:
    notes = study / "checks-K2.txt"
    notes.write_text("2024-01-05\nK2-01 1 0\n")
    with pytest.raises(StudyError, match="read from there already"):
        log_notes(study, notes)


def test_an_evil_sign_cannot_leave_the_folder(study: Path) -> None:
    for sign in ("../../x", "/tmp/x", "..", "a\\b"):
        assert target(study, "checks", sign).parent == study
    (study / "foundings-evil.csv").write_text(HEADS + "../../a-01,Lasius,2024-01-01,1,../../a\n")
    done = log_look(study, "../../a-01", {"queens_alive": "1"}, date="2024-01-05")
    assert all(path.parent == study for path in done.files)


def test_a_workbook_is_never_written_to(study: Path) -> None:
    from cohort.desk.begin import begin

    begin(study, ["K3"])
    before = (study / "K3.xlsx").read_bytes()
    (study / "foundings-K3.csv").write_text(HEADS + "K3-01,Lasius,2024-01-01,1,K3\n")
    log_look(study, "K3-01", {"queens_alive": "1"}, date="2024-01-05")
    assert (study / "K3.xlsx").read_bytes() == before
    assert (study / "checks-K3.csv").exists()


# --- the command, cut off at random moments -----------------------------------------------------


def test_the_command_says_what_it_did(study: Path) -> None:
    good = run(
        "log",
        str(study),
        "K2-02",
        "--alive",
        "3",
        "--workers",
        "0",
        "--date",
        "2024-01-05",
        "--note",
        "calm",
    )
    assert (good.returncode, good.stderr) == (0, "")
    assert "checks-K2.csv" in good.stdout
    bad = run("log", str(study), "K2-02", "--alive", "9", "--date", "2024-01-09")
    assert bad.returncode == 1
    assert "Traceback" not in bad.stderr
    assert "Nothing was written" in bad.stderr
    misuse = run("log", str(study))
    assert misuse.returncode == 2


def one_look(study: Path, number: int) -> subprocess.Popen[str]:
    day = dt.date(2024, 1, 2) + dt.timedelta(days=number)
    return subprocess.Popen(
        [
            sys.executable,
            "-c",
            MAIN,
            "log",
            str(study),
            "K2-01",
            "--alive",
            "1",
            "--workers",
            "0",
            "--date",
            day.isoformat(),
            "--note",
            f"look {number} " + "x" * 300,
        ],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )


def numbers(study: Path) -> list[int]:
    path = study / "checks-K2.csv"
    if not path.exists():
        return []
    table, notices = read_delimited(path.read_bytes(), path.name, "checks")
    assert [n for n in notices if n.level == "error"] == []
    assert all(note.endswith("x" * 300) for note in table.frame["note"])
    return [int(note.split()[1]) for note in table.frame["note"]]


def cut_off(study: Path, rng: np.random.Generator, times: int) -> int:
    """Kill the command at random moments of its life; returns how many came through."""
    start = time.monotonic()
    first = one_look(study, 0)
    first.communicate(timeout=120)
    assert first.returncode == 0
    life = time.monotonic() - start
    told = {0}
    for number in range(1, times + 1):
        process = one_look(study, number)
        # Most of its life is spent on imports; the moments that matter are near the end.
        wait = rng.uniform(0, 1.2 * life) if number % 3 == 0 else rng.uniform(0.6, 1.1) * life
        time.sleep(wait)
        life *= 1.05 if process.poll() is None else 0.95  # the machine may be busier by now
        process.kill()
        out, _ = process.communicate(timeout=60)
        if "Wrote 1 row" in out:
            told.add(number)
        there = numbers(study)
        assert len(there) == len(set(there))
        assert told <= set(there)
    read_study(study)
    log_look(study, "K2-02", {"queens_alive": "3"}, date="2024-01-05")
    assert [p.name for p in study.glob(".*.tmp")] == []
    assert len(versions(study / "checks-K2.csv")) <= 10
    return len(told)


def test_cut_off_at_random_moments_no_row_is_lost_or_torn(
    study: Path, rng: np.random.Generator
) -> None:
    cut_off(study, rng, 15)


@pytest.mark.slow
def test_cut_off_three_hundred_times(study: Path, rng: np.random.Generator) -> None:
    came_through = cut_off(study, rng, 300)
    assert 20 < came_through < 300


def killed_inside(place: Path, step: int, *what: str) -> tuple[int, int]:
    done = subprocess.run(
        [
            sys.executable,
            "-W",
            "ignore",
            str(Path(__file__).with_name("killer.py")),
            str(place),
            str(step),
            *what,
        ],
        capture_output=True,
        text=True,
        timeout=3600,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    kills, through = map(int, re.findall(r"\d+", done.stdout))
    return kills, through


def test_cut_off_inside_the_write_it_is_all_there_or_nothing(tmp_path: Path) -> None:
    kills, through = killed_inside(tmp_path, 75)
    assert kills >= 6
    assert through < kills


def test_taking_back_cut_off_inside_the_write_takes_all_or_nothing(tmp_path: Path) -> None:
    kills, through = killed_inside(tmp_path, 75, "undo")
    assert kills >= 4
    assert through < kills


@pytest.mark.parametrize("what", ["form", "correct"])
def test_a_form_or_a_correction_cut_off_inside_the_write_is_all_there_or_nothing(
    what: str, tmp_path: Path
) -> None:
    kills, through = killed_inside(tmp_path, 50, what, "4")
    assert (kills, through < kills) == (4, True)


@pytest.mark.slow
@pytest.mark.parametrize(
    ("what", "step"), [("form", 4), ("correct", 1), ("merge", 5), ("unmerge", 4)]
)
def test_what_writes_killed_a_hundred_times(what: str, step: int, tmp_path: Path) -> None:
    kills, through = killed_inside(tmp_path, step, what)
    assert kills >= 100
    assert 0 < through < kills


@pytest.mark.parametrize(("what", "step"), [("merge", 110), ("unmerge", 150)])
def test_a_merge_or_its_undo_cut_off_inside_the_write_takes_all_or_nothing(
    what: str, step: int, tmp_path: Path
) -> None:
    kills, through = killed_inside(tmp_path, step, what)
    assert kills >= 4
    assert through < kills


@pytest.mark.slow
def test_cut_off_at_every_third_line_of_the_write(tmp_path: Path) -> None:
    kills, through = killed_inside(tmp_path, 3)
    assert kills > 150
    assert 0 < through < kills


def test_two_commands_at_once_both_write(study: Path) -> None:
    both = [one_look(study, n) for n in (1, 2)]
    for process in both:
        _, err = process.communicate(timeout=120)
        assert process.returncode == 0, err
    assert sorted(numbers(study)) == [1, 2]
    assert (study / EARLIER / "writing.lock").exists()


def test_known_faults_are_plain_errors(study: Path) -> None:
    assert issubclass(StudyError, CohortError)
    done = run("log", str(study / "nowhere"), "K2-01", "--alive", "1")
    assert done.returncode == 1
    assert "Traceback" not in done.stderr
