"""`cohort log`: audit first, then a row that is never lost or torn."""

from __future__ import annotations

import datetime as dt
import subprocess
import sys
import time
from pathlib import Path

import numpy as np
import pytest

from cohort.errors import CohortError, SheetError, StudyError
from cohort.log import log_look, log_notes, target
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


def test_a_warning_is_told_and_the_row_is_written(study: Path) -> None:
    done = log_look(study, "K2-02", {"queens_alive": "3", "brood": "chicks"}, date="2024-01-05")
    assert [f.level for f in done.findings if "chicks" in f.what] == ["warning"]
    assert (study / "checks-K2.csv").exists()


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
    from cohort.begin import begin

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
