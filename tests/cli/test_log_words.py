"""`cohort log`: numbers in another spelling, words of phone notes, what goes with `rest`."""

import datetime as dt
from pathlib import Path
from types import SimpleNamespace

import pytest

from cohort.base.errors import SheetError, StudyError
from cohort.cli import main
from cohort.desk.correct import correct
from cohort.desk.log import log_look, log_notes

DAY = "2024-01-05"
HEADS = "founding,genus,started,queens,keeper\n"
COUNTED = {"queens_alive": "1", "workers": "0"}


@pytest.fixture
def study(tmp_path: Path) -> Path:
    place = tmp_path / "study"
    place.mkdir()
    (place / "foundings-K2.csv").write_text(
        HEADS + "K2-01,Messor,2024-01-01,1,K2\nK2-02,Messor,2024-01-01,3,K2\n"
    )
    return place


@pytest.mark.parametrize("typed", ["k2-1", "K2 01", "K2-O1"])
def test_a_number_in_another_spelling_is_proposed_and_taken(typed, study):
    with pytest.raises(StudyError, match="Write K2-01 if that is meant"):
        log_look(study, typed, COUNTED, date=DAY)
    assert log_look(study, "K2-01", COUNTED, date=DAY).rows == 1


def test_a_number_that_is_not_there_is_not_guessed(study):
    with pytest.raises(StudyError, match="Give it a row in the sheet foundings first") as raised:
        log_look(study, "K2-09", COUNTED, date=DAY)
    assert "K2-01" not in str(raised.value)


def test_brood_of_a_note_file_is_written_and_a_doubt_is_said(study, tmp_path):
    notes = tmp_path / "phone.txt"
    notes.write_text(f"{DAY}\nK2-01 1 0 eggs\nK2-02 3 0 larvea seen\n", "utf-8")
    done = log_notes(study, notes)
    assert "note-word" in {f.rule for f in done.findings}
    rows = done.files[0].read_text("utf-8").splitlines()
    assert rows[-2].startswith(f"K2-01,{DAY},1,0,eggs,")


def test_the_rest_without_workers_draws_no_warning(study):
    done = log_look(study, "rest", {"queens_alive": "same", "workers": "0"}, date=DAY)
    assert (done.rows, done.findings) == (1, ())


def test_winter_rest_of_a_shelf_is_written_to_its_keepers_own_file(study):
    head = "founding,genus,started,queens,keeper,shelf\n"
    (study / "foundings-K3.csv").write_text(head + "K3-01,Messor,2024-01-01,1,K3,cellar\n")
    (study / "events.csv").write_text("founding,date,event\n")
    event = {"event": "winter-in", "number": "", "other": "", "note": ""}
    done = log_look(study, "cellar", {}, event=event, date=DAY)
    assert ([file.name for file in done.files], done.findings) == (["events-K3.csv"], ())
    with pytest.raises(StudyError, match="There is no founding 'celar'"):
        log_look(study, "celar", {}, event=event, date=DAY)
    with (study / "foundings-K2.csv").open("a") as sheet:  # now two keepers have a cellar
        sheet.write("K2-03,Messor,2024-01-01,1,K2\n")
    text = (study / "foundings-K2.csv").read_text().replace("K2\n", "K2,cellar\n")
    (study / "foundings-K2.csv").write_text(text.replace("keeper\n", "keeper,shelf\n"))
    with pytest.raises(StudyError, match="Add --keeper"):
        log_look(study, "cellar", {}, event=event, date="2024-01-06")


def test_rest_of_an_event_is_refused_and_all_is_taken(study):
    event = {"event": "moved", "number": "", "other": "", "note": ""}
    with pytest.raises(SheetError, match="Write all for every open founding"):
        log_look(study, "rest", {}, event=event, date=DAY)
    assert log_look(study, "all", {}, event=event, date=DAY).rows == 1


def run(monkeypatch, stdin, *words):
    with stdin.open(encoding="utf-8") as typed, monkeypatch.context() as patch:
        patch.setattr("sys.stdin", typed)
        with pytest.raises(SystemExit) as end:
            main([str(word) for word in words])
    return end.value.code


def test_a_message_comes_in_on_standard_input(study, tmp_path, monkeypatch, capsys):
    message = tmp_path / "typed"
    message.write_text(f"{DAY}\nk2-1 1 0 eggs\n", "utf-8")
    assert run(monkeypatch, message, "log", study, "--from", "-") == 0
    said = capsys.readouterr().out
    assert "'k2-1' was read as K2-01" in said
    assert "Wrote 1 row to checks-K2.csv" in said
    assert run(monkeypatch, message, "log", study) == 0  # what is piped in needs no --from
    assert "in already" in capsys.readouterr().out
    message.write_text(f"{DAY}\nK2-01 one 0\n", "utf-8")
    assert run(monkeypatch, message, "log", study) == 1
    assert "message, row 2: 'K2-01 one 0' is not understood" in capsys.readouterr().err


def test_an_empty_message_is_said_and_a_look_does_not_wait_for_one(
    study, tmp_path, monkeypatch, capsys
):
    empty = tmp_path / "empty"
    empty.write_text(" \n", "utf-8")
    assert run(monkeypatch, empty, "log", study, "--from", "-") == 1
    assert "No message came in" in capsys.readouterr().err
    assert run(monkeypatch, empty, "log", study) == 2
    assert "--from" in capsys.readouterr().err
    assert run(monkeypatch, empty, "log", study, "K2-01", "--alive", "1", "--date", DAY) == 0


def test_a_day_typed_as_people_type_it_is_the_one_that_can_be(study, monkeypatch):
    """On 20 January 2024: no look is of a day to come."""
    clock = type("Clock", (dt.date,), {"today": classmethod(lambda cls: dt.date(2024, 1, 20))})
    for place in ("cohort.desk.log.dt", "cohort.desk.correct.dt"):
        monkeypatch.setattr(place, SimpleNamespace(date=clock, datetime=dt.datetime))
    for typed in ("12.1.", "12.1.2024", "1/12/24", "12 January", "2024-01-12"):
        done = log_look(study, "K2-01", COUNTED, date=typed)
        assert (typed, done.rows) == (typed, 1 if typed == "12.1." else 0)
    assert "K2-01,2024-01-12,1,0" in (study / "checks-K2.csv").read_text()
    correct(study, "K2-01", "12.1.", {"workers": "2"})
    assert "K2-01,2024-01-12,1,2" in (study / "checks-K2-corrections.csv").read_text()
    with pytest.raises(SheetError, match="has no year"):
        log_look(study, "K2-01", COUNTED, date="21.1.")
    with pytest.raises(SheetError, match="'yesterday' is not a date"):
        log_look(study, "K2-01", COUNTED, date="yesterday")
