"""A founding handed over to another keeper: whose `rest` speaks of it, whose forms show it."""

import datetime as dt

import pytest

from cohort.audit import audit
from cohort.cli import main
from cohort.desk.log import log_look, log_message
from cohort.desk.print.open import still_open
from cohort.desk.whose import keeper_for
from cohort.forecast.rounds import looks_due, open_foundings
from cohort.history import history
from cohort.sheets.folder import read_folder
from cohort.study import read_study
from cohort.study.keepers import keepers_now

HEADS = "founding,genus,started,queens,keeper\n"


@pytest.fixture
def study(tmp_path):
    for sign in ("K1", "K2"):
        rows = "".join(f"{sign}-0{n},Lasius,2024-07-01,2,{sign}\n" for n in (1, 2))
        (tmp_path / f"foundings-{sign}.csv").write_text(HEADS + rows, "utf-8")
        (tmp_path / f"checks-{sign}.csv").write_text(
            "founding,date,queens_alive,workers\n"
            + "".join(f"rest,2024-07-{day},same,0\n" for day in ("05", "09", "13", "17")),
            "utf-8",
        )
    return tmp_path


def days(study, number):
    checks = read_study(study).checks
    mine = checks[checks["founding"] == number]
    return [(f"{r.date:%d}", r.file) for r in mine.itertuples()]


def test_from_the_next_day_on_the_new_keepers_rest_speaks_of_it(study):
    before = days(study, "K1-02")
    assert before == [(day, "checks-K1.csv") for day in ("05", "09", "13", "17")]
    log_message(study, b"2024-07-09\nK1-02 2 0 handed over to K2\n", today=dt.date(2024, 8, 1))
    assert days(study, "K1-02") == [
        ("05", "checks-K1.csv"), ("09", "checks-K1.csv"),
        ("13", "checks-K2.csv"), ("17", "checks-K2.csv"),
    ]  # fmt: skip
    assert days(study, "K1-01") == before
    assert days(study, "K2-01") == [(day, "checks-K2.csv") for day in ("05", "09", "13", "17")]
    assert [f.level for f in audit(read_folder(study)) if f.level == "error"] == []


def test_an_event_of_all_is_of_the_keeper_who_has_it_now(study):
    (study / "events-K1.csv").write_text(
        "founding,date,event,number,other\nK1-02,2024-07-09,handed-over,,k2\n"
        "all,2024-07-17,winter-in,,\n", "utf-8")  # fmt: skip
    events = read_study(study).events
    assert events.loc[events["event"] == "winter-in", "founding"].tolist() == ["K1-01"]


def test_forms_lists_and_new_rows_go_to_the_new_keeper(study):
    log_look(study, "K1-02", {}, event={"event": "handed-over", "other": "K2"}, date="2024-07-09")
    made = read_study(study)
    assert keepers_now(made).tolist() == ["K1", "K2", "K2", "K2"]
    assert made.foundings["keeper"].tolist() == ["K1", "K1", "K2", "K2"]  # as it began
    assert still_open(made, "K2")["founding"].tolist() == ["K1-02", "K2-01", "K2-02"]
    assert still_open(made, "k1")["founding"].tolist() == ["K1-01"]
    assert keeper_for(read_folder(study), "K1-02") == "K2"
    on = dt.date(2024, 7, 20)
    due = looks_due(made, open_foundings(made, history(made), on), on)
    assert dict(zip(due["founding"], due["keeper"], strict=True))["K1-02"] == "K2"
    done = log_look(study, "K1-02", {"queens_alive": "2"}, date="2024-07-20")
    assert [path.name for path in done.files] == ["checks-K2.csv"]
    log_look(study, "K1-02", {}, event={"event": "handed-over", "other": "K1"}, date="2024-07-20")
    assert keepers_now(read_study(study)).tolist() == ["K1", "K1", "K2", "K2"]  # and back again


def test_the_letter_on_a_founding_goes_to_whom_it_was_handed(study, tmp_path, capsys):
    """K1-02 was handed to K2, who counts one queen too many."""
    log_look(study, "K1-02", {}, event={"event": "handed-over", "other": "k2"}, date="2024-07-09")
    with (study / "checks-K2.csv").open("a", encoding="utf-8") as sheet:
        sheet.write("K1-02,2024-07-19,3,0\n")
    with pytest.raises(SystemExit):
        main(["audit", str(study), "--letters", str(tmp_path), "--today", "2024-07-20"])
    assert "letter-K2.txt" in capsys.readouterr().out
    assert "K1-02" in (tmp_path / "letter-K2.txt").read_text("utf-8")
    assert not (tmp_path / "letter-K1.txt").exists()
