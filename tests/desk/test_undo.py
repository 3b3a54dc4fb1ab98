"""An entry taken back: byte for byte what was there, and never a row that somebody else wrote."""

import datetime as dt

import pytest

from cohort.base.errors import SheetError, StudyError
from cohort.desk.log import log_look, log_notes
from cohort.desk.undo import KEPT, entries, undo

DAY = (dt.date.today() - dt.timedelta(days=3)).isoformat()
LATER = (dt.date.today() - dt.timedelta(days=1)).isoformat()
FOUNDINGS = """founding,genus,started,queens
K1-01,Lasius,2026-05-01,3
K1-02,Lasius,2026-05-01,1
K2-01,Messor,2026-05-01,2
"""


@pytest.fixture
def study(tmp_path):
    folder = tmp_path / "study"
    folder.mkdir()
    (folder / "foundings.csv").write_text(FOUNDINGS, "utf-8")
    # no line end behind the last row, and a keeper's own spelling
    (folder / "checks.csv").write_bytes(
        b"founding;date;queens_alive;workers;note\r\nK1-01;2026-05-09;3;0;f\xc3\xbcr mich"
    )
    return folder


def sheets(folder):
    return {path.name: path.read_bytes() for path in folder.iterdir() if path.is_file()}


def look(folder, founding, queens, **how):
    return log_look(
        folder, founding, {"queens_alive": str(queens), "workers": "0"}, date=DAY, **how
    )


def test_the_sheets_are_as_they_were_to_the_last_byte(study):
    before = sheets(study)
    look(study, "K1-01", 2, event={"event": "fight"})
    assert sheets(study) != before
    back = undo(study)
    assert back.rows["checks.csv"] == (f"K1-01;{DAY};2;0;",)
    now = sheets(study)
    assert now["checks.csv"] == before["checks.csv"]
    assert now["foundings.csv"] == before["foundings.csv"]
    # the sheet of events was new: its headings stay, and no row
    assert now["events-K1.csv"].decode().splitlines() == ["founding,date,event,number,other,note"]
    with pytest.raises(StudyError, match="no entry to take back"):
        undo(study)


def test_a_file_of_notes_goes_back_as_one_entry(study, tmp_path):
    before = sheets(study)
    notes = tmp_path / "n.txt"
    notes.write_text(f"{DAY}\nK1-01 2 0\nK1-02 1 0 moved\nK2-01 2 0 mould\n", "utf-8")
    assert log_notes(study, notes).rows == 5
    undo(study, "K2")  # hers is part of it
    assert sheets(study)["checks.csv"] == before["checks.csv"]
    assert log_notes(study, notes).rows == 5  # and can be given again


def test_the_last_entry_of_a_keeper_is_taken_from_between_those_of_others(study):
    for founding, queens in (("K1-01", 2), ("K2-01", 2), ("K1-02", 1), ("K2-01", 1)):
        day = LATER if (founding, queens) == ("K2-01", 1) else DAY
        log_look(study, founding, {"queens_alive": str(queens), "workers": "0"}, date=day)
    undo(study, "k1")
    text = sheets(study)["checks.csv"].decode()
    assert f"K1-02;{DAY}" not in text
    assert text.endswith(f"K1-01;{DAY};2;0;\r\nK2-01;{DAY};2;0;\r\nK2-01;{LATER};1;0;\r\n")
    undo(study, "K2")  # it stands further to the front now
    assert sheets(study)["checks.csv"].decode().endswith(f"K2-01;{DAY};2;0;\r\n")
    undo(study, "K2")
    undo(study, "K1")
    assert sheets(study)["checks.csv"].endswith(b"3;0;f\xc3\xbcr mich")


def test_what_was_changed_since_is_left_alone(study):
    look(study, "K1-01", 2)
    path = study / "checks.csv"
    path.write_bytes(
        path.read_bytes().replace(f"K1-01;{DAY};2".encode(), f"K1-01;{DAY};1".encode())
    )
    before = sheets(study)
    with pytest.raises(StudyError, match="changed since"):
        undo(study)
    assert sheets(study) == before


def test_a_row_written_by_hand_behind_it_stays(study):
    look(study, "K1-01", 2)
    path = study / "checks.csv"
    own = f"K1-02;{DAY};1;0;by hand\r\n".encode()
    path.write_bytes(path.read_bytes() + own)
    undo(study)
    assert path.read_bytes().endswith(b"mich\r\n" + own) or path.read_bytes().endswith(
        b"mich" + own
    )


def test_the_first_of_several_goes_and_the_others_can_follow(study):
    before = sheets(study)["checks.csv"]
    look(study, "K1-01", 2)  # brought a line end for the row before it
    look(study, "K2-01", 2)
    log_look(study, "K2-01", {"queens_alive": "1", "workers": "0"}, date=LATER)
    undo(study, "K1")
    undo(study)
    undo(study)
    assert sheets(study)["checks.csv"] == before + b"\r\n"


def test_an_entry_of_later_date_can_be_taken_back(study):
    log_look(study, "K1-01", {}, event={"event": "queens-in", "number": "2"}, date=DAY)
    log_look(study, "K1-01", {"queens_alive": "5", "workers": "0"}, date=LATER, keeper="K1")
    kept = entries(study)
    assert len(kept) == 2
    before = sheets(study)
    undo(study)
    log_look(study, "K2-01", {"queens_alive": "2", "workers": "0"}, date=LATER)
    assert sheets(study)["events-K1.csv"] == before["events-K1.csv"]


def test_queens_put_in_are_not_taken_back_under_a_count_that_needs_them(study):
    log_look(study, "K1-01", {}, event={"event": "queens-in", "number": "2"}, date=DAY, keeper="K1")
    path = study / "checks.csv"
    path.write_bytes(path.read_bytes() + f"\r\nK1-01;{LATER};5;0;\r\n".encode())
    before = sheets(study)
    with pytest.raises(SheetError, match="later rows need it"):
        undo(study)
    assert sheets(study) == before


def test_a_damaged_list_takes_nothing_back_and_hinders_no_entry(study):
    look(study, "K1-01", 2)
    (study / "earlier" / "entries.json").write_text("[{", "utf-8")
    with pytest.raises(StudyError, match="no entry to take back"):
        undo(study)
    look(study, "K1-02", 1)
    assert undo(study).rows["checks.csv"] == (f"K1-02;{DAY};1;0;",)


@pytest.mark.parametrize("name", ["../other.csv", "a/b.csv", "..", "c\\d.csv"])
def test_a_list_from_elsewhere_reaches_no_other_file(study, name):
    look(study, "K1-01", 2)
    place = study / "earlier" / "entries.json"
    place.write_text(place.read_text().replace("checks.csv", name.replace("\\", "\\\\")), "utf-8")
    other = study.parent / "other.csv"
    other.write_bytes((study / "checks.csv").read_bytes())
    before = sheets(study)
    with pytest.raises(StudyError, match="no entry to take back"):
        undo(study)
    assert other.read_bytes() == before["checks.csv"]
    assert sheets(study) == before


def test_so_many_are_remembered(study):
    for i in range(KEPT + 3):
        day = (dt.date(2026, 6, 1) + dt.timedelta(days=i)).isoformat()
        log_look(study, "K1-02", {"queens_alive": "1", "workers": "0"}, date=day)
    assert len(entries(study)) == KEPT
