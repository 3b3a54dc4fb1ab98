"""A study packed, sent and merged: nothing lost, nothing twice, nothing private sent."""

from __future__ import annotations

import io
import json
import zipfile
from pathlib import Path

import pytest
from hypothesis import given, settings
from merged_studies import STUDY, merged_twice, sheets

from cohort.base.errors import SheetError, StudyError
from cohort.cli import main
from cohort.desk.correct import correct
from cohort.desk.share import merge, pack, read_sent
from cohort.desk.share.sent import MAX_UNPACKED, unpacked
from cohort.desk.undo import undo
from cohort.sheets.lists import COLUMNS
from cohort.study import read_study

DEMO = Path(__file__).parents[2] / "data" / "demo"
HEADS = "founding,genus,started,queens,assigned,block,keeper,note"


def study(place: Path, **files: str) -> Path:
    place.mkdir(parents=True)
    for name, text in files.items():
        (place / f"{name.replace('_', '-')}.csv").write_text(text, "utf-8")
    return place


def sent(folder: Path, **how: bool) -> Path:
    path = folder.parent / f"{folder.name}.zip"
    path.write_bytes(pack(folder, **how).data)
    return path


@pytest.fixture
def ours(tmp_path: Path) -> Path:
    return study(
        tmp_path / "ours",
        foundings_K1=f"{HEADS}\nK1-01,Lasius,2025-05-01,1,,,K1,mine\n"
        "K1-02,Lasius,2025-05-01,3,,,K1,\n",
        checks_K1="founding,date,queens_alive,workers\nK1-01,2025-05-09,1,0\n",
    )


@pytest.fixture
def theirs(tmp_path: Path) -> Path:
    return study(
        tmp_path / "theirs",
        foundings_K2=f"{HEADS}\nK2-01,Messor,2025-05-02,1,,,K2,by the pond at 5 Mill Lane\n",
        checks_K2="founding,date,queens_alive,workers,photo,note\n"
        "K2-01,2025-05-09,1,0,a.jpg,secret\n",
        catches="catch,date,genus,queens,place\nC1,2025-05-01,Messor,1,Mill Lane\n",
    )


# --- packing --------------------------------------------------------------------------------------


def test_nothing_private_is_in_what_is_sent(theirs: Path) -> None:
    (theirs / "study.toml").write_text('title = "T"\nplace = "Mill Lane"\nphoto_credit = "Ann"\n')
    made = pack(theirs)
    files = unpacked(made.data, "x.zip")
    everything = b"\n".join(files.values())
    for word in (b"Mill", b"secret", b"a.jpg", b"Ann", b"keeper"):
        assert word not in everything, word
    assert made.left_out["catches"] == ("place",)
    assert made.left_out["checks"] == ("note", "photo")
    with_notes = b"\n".join(unpacked(pack(theirs, notes=True).data, "x").values())
    assert b"secret" in with_notes
    assert b"a.jpg" not in with_notes
    (theirs / "study.toml").write_text("show_keepers = true\n")
    assert b"keeper" in unpacked(pack(theirs).data, "x")["foundings-K2.csv"]


def test_a_name_in_file_names_and_keepers_stays_at_home(tmp_path: Path) -> None:
    here = study(
        tmp_path / "here",
        foundings_Annabel=f"{HEADS}\nK2-01,Messor,2025-05-02,1,,,Annabel,\n",
        checks_Annabel="founding,date,queens_alive\nK2-01,2025-05-09,1\nrest,2025-05-12,same\n",
    )
    files = unpacked(pack(here).data, "x")
    assert set(files) == {"foundings-K2.csv", "checks-K2.csv", "study.csv"}
    assert b"Annabel" not in b"".join(files.values())
    named = study(tmp_path / "named", foundings=f"{HEADS}\nAnna-01,Messor,2025-05-02,1,,,,\n")
    assert pack(named).names_kept == ("Anna",)  # cannot be helped, and is told


def test_the_same_sheets_give_the_same_bytes() -> None:
    assert pack(DEMO).data == pack(DEMO).data


def test_the_manifest_has_the_sum_of_every_file() -> None:
    with zipfile.ZipFile(io.BytesIO(pack(DEMO).data)) as packet:
        manifest = json.loads(packet.read("manifest.json"))
        assert set(manifest["files"]) == set(packet.namelist()) - {"manifest.json"}


def test_the_demo_sent_to_an_empty_club_is_the_demo(tmp_path: Path) -> None:
    """Notes and places apart; `rest` speaks of the same foundings, from notes and workbooks too."""
    club = study(tmp_path / "club", foundings="")
    (club / "study.toml").write_bytes((DEMO / "study.toml").read_bytes())
    (club / "foundings.csv").unlink()
    merge(club, sent(_copy(DEMO, tmp_path / "demo")))
    one, two = read_study(DEMO), read_study(club)
    for name in ("foundings", "checks", "events"):
        a, b = (
            getattr(s, name).drop(columns=["file", "row", "note"]).sort_values(
                ["founding", *(["date"] if name != "foundings" else [])], kind="stable"
            )
            for s in (one, two)
        )  # fmt: skip
        assert a.astype(str).values.tolist() == b.astype(str).values.tolist(), name


def _copy(folder: Path, to: Path) -> Path:
    to.mkdir()
    for path in folder.iterdir():
        if path.is_file():
            (to / path.name).write_bytes(path.read_bytes())
    return to


def test_rest_in_a_workbook_keeps_its_own_foundings(tmp_path: Path) -> None:
    import xlsxwriter

    here = study(tmp_path / "here", foundings_K1=f"{HEADS}\nK1-09,Lasius,2025-05-01,1,,,,\n")
    with xlsxwriter.Workbook(str(here / "K1.xlsx")) as book:
        tab = book.add_worksheet("foundings")
        tab.write_row(0, 0, ["founding", "genus", "started", "queens"])
        tab.write_row(1, 0, ["K1-01", "Lasius", "2025-05-01", 1])
        tab = book.add_worksheet("checks")
        tab.write_row(0, 0, ["founding", "date", "queens_alive"])
        tab.write_row(1, 0, ["rest", "2025-05-09", "same"])
    looked = set(read_study(here).checks["founding"])
    assert looked == {"K1-01"}
    got = read_sent(sent(here))
    there = study(tmp_path / "there")
    for name, data in unpacked(pack(here).data, "x").items():
        (there / name).write_bytes(data)
    assert set(read_study(there).checks["founding"]) == looked
    assert len(got.sheets.tables) >= 3


# --- merging --------------------------------------------------------------------------------------


def test_new_rows_come_in_and_a_second_time_nothing_happens(ours: Path, theirs: Path) -> None:
    before = sheets(ours)
    done = merge(ours, sent(theirs))
    assert (done.rows, done.conflicts) == ({"catches": 1, "foundings": 1, "checks": 1}, ())
    after = sheets(ours)
    assert {name: after[name] for name in before} == before  # new files only: no keeper K2 was here
    again = merge(ours, sent(theirs))
    assert (again.rows, again.already, again.files) == ({}, 3, ())
    assert sheets(ours) == after
    assert {p.name for p in (ours / "earlier").glob("*.csv")} == set()
    both = read_study(ours)
    assert set(both.foundings["founding"]) == {"K1-01", "K1-02", "K2-01"}


def test_a_folder_is_taken_like_a_packed_study(ours: Path, theirs: Path) -> None:
    assert merge(ours, theirs).rows == {"catches": 1, "foundings": 1, "checks": 1}
    assert "Mill Lane" in (ours / "catches.csv").read_text()  # who has the folder has it anyway


def test_a_row_that_says_something_else_is_shown_with_both_places(ours: Path, tmp_path) -> None:
    other = study(
        tmp_path / "other",
        foundings_K1=f"{HEADS}\nK1-01,Lasius,2025-05-01,1,,,K1,mine\n",
        checks_K1="founding,date,queens_alive,workers\nK1-01,9.5.2025,1,2\nK1-01,2025-05-16,1,3\n",
    )
    (other / "study.toml").write_text('date_order = "dmy"\n')
    before = sheets(ours)
    done = merge(ours, sent(other, notes=True))
    (one,) = done.conflicts
    assert (one.why, one.values) == ("differs", (("workers", "0", "2"),))
    assert (one.ours, one.theirs) == ("checks-K1.csv, row 2", "checks-K1.csv, row 2")
    after = sheets(ours)
    assert after["checks-K1.csv"] == before["checks-K1.csv"] + b"K1-01,2025-05-16,1,3\n"
    assert after["foundings-K1.csv"] == before["foundings-K1.csv"]


def test_a_number_that_two_clubs_used_holds_back_all_that_hangs_on_it(ours: Path, tmp_path) -> None:
    other = study(
        tmp_path / "other",
        foundings=f"{HEADS}\nK1-01,Messor,2025-06-01,3,,,,\nK1-07,Messor,2025-06-01,1,,,,\n",
        checks="founding,date,queens_alive,workers\nK1-01,2025-06-09,2,0\nK1-07,2025-06-09,1,0\n"
        "K1-01,2025-05-09,3,0\n",
        events="founding,date,event\nK1-01,2025-06-10,fight\n",
    )
    done = merge(ours, other)
    (one,) = done.conflicts
    assert one.why == "number"
    assert {name for name, _, _ in one.values} >= {"genus", "started", "queens"}
    assert "numbers with another sign" in one.remedy
    # a look that both have on a day is of another founding, and no second conflict
    assert [row.sheet for row in done.held] == ["checks", "checks", "events"]
    assert done.rows == {"foundings": 1, "checks": 1}
    assert "2025-06-09,2" not in (ours / "checks-K1.csv").read_text()


def test_kinds_shelves_blocks_and_lists_of_one_name_are_not_taken_for_one(tmp_path: Path) -> None:
    one = study(
        tmp_path / "one",
        kinds="kind,genus\nblack,Lasius\n",
        foundings_A="founding,kind,started,queens,assigned,block,shelf\n"
        "A-01,black,2025-05-01,1,random,L1-1,S1\n",
        temperatures="shelf,date,min_c,max_c\nS1,2025-05-01,20,24\n",
    )
    two = study(
        tmp_path / "two",
        kinds="kind,genus\nblack,Tetramorium\n",
        foundings_B="founding,genus,kind,started,queens,assigned,block,shelf\n"
        "B-01,,black,2025-05-01,1,,,S1\nB-02,Messor,,2025-05-01,1,random,L1-1,\n",
        temperatures="shelf,date,min_c,max_c\nS1,2025-05-02,10,14\n",
    )
    for place, seed in ((one, "1"), (two, "2")):
        (place / "lists").mkdir()
        (place / "lists" / "L1.csv").write_text(f"list,seed\nL1,{seed}\n")
    done = merge(one, two)
    assert sorted(c.why for c in done.conflicts) == ["list", "number", "shelf"]
    assert [row.key for row in done.held] == [("b-01",)]
    assert done.rows == {}
    (two / "lists" / "L1.csv").unlink()
    assert sorted(c.why for c in merge(one, two).conflicts) == ["block", "number", "shelf"]


def test_rest_never_comes_to_speak_of_foundings_nobody_meant(ours: Path, tmp_path: Path) -> None:
    other = study(
        tmp_path / "other",
        foundings_K1=f"{HEADS}\nK1-01,Lasius,2025-05-01,1,,,K1,mine\n",
        checks_K1="founding,date,queens_alive,workers\nrest,2025-05-20,same,0\n",
    )
    done = merge(ours, other)  # here K1-02 is open too, of which the sender knew nothing
    (one,) = done.conflicts
    assert one.why == "rest"
    assert "would speak of K1-02 too" in one.remedy
    assert done.rows == {}


def test_a_new_founding_does_not_slip_under_a_rest_of_ours(ours: Path, tmp_path: Path) -> None:
    path = ours / "checks-K1.csv"
    path.write_text(path.read_text() + "rest,2025-05-20,same,0\n")
    other = study(
        tmp_path / "other", foundings_K1=f"{HEADS}\nK1-03,Lasius,2025-05-05,1,,,K1,\n"
        "K1-04,Lasius,2025-05-25,1,,,K1,\n",
    )  # fmt: skip
    done = merge(ours, other)
    assert [c.what for c in done.conflicts] == ["rest, 2025-05-20"]
    assert done.rows == {"foundings": 1}  # K1-04 began later
    (other / "checks-K1.csv").write_text(
        "founding,date,queens_alive,workers\nrest,2025-05-20,same,0\n"
    )
    done = merge(ours, other)  # now its keeper says so herself
    assert done.conflicts == ()
    assert done.rows == {"foundings": 1}


def test_a_column_of_theirs_that_ours_lacks_is_told(ours: Path, tmp_path: Path) -> None:
    other = study(
        tmp_path / "other",
        foundings_K1="founding,genus,started,queens,housing\nK1-05,Lasius,2025-05-01,1,vial\n",
    )
    (one,) = merge(ours, other).conflicts
    assert (one.why, one.remedy[:40]) == ("column", "foundings-K1.csv has no column housing. ")


def test_rows_with_an_error_stop_all_of_it(ours: Path, tmp_path: Path) -> None:
    other = study(
        tmp_path / "other",
        foundings_K2=f"{HEADS}\nK2-01,Lasius,2025-05-01,1,,,,\n",
        checks_K2="founding,date,queens_alive\nK2-01,2025-05-09,4\n",
    )
    before = sheets(ours)
    with pytest.raises(SheetError, match="Nothing was written"):
        merge(ours, other)
    assert sheets(ours) == before


def test_a_correction_goes_along_and_stands_on_the_other_side(ours: Path, tmp_path: Path) -> None:
    """The old look and the row that corrects it are two rows of one day, and no conflict."""
    other = _copy(ours, tmp_path / "other")
    correct(other, "K1-01", "2025-05-09", {"workers": "2"})
    parcel = sent(other)
    done = merge(ours, parcel)
    assert (done.rows, done.conflicts) == ({"checks": 1}, ())
    mine = read_study(ours).checks.set_index("founding")["workers"]
    assert mine["K1-01"] == 2
    assert merge(ours, parcel).rows == {}
    club = study(tmp_path / "club", foundings_K9=f"{HEADS}\nK9-01,Lasius,2025-05-01,1,,,,\n")
    done = merge(club, parcel)  # both rows are new there
    assert (done.rows["checks"], done.conflicts) == (2, ())
    assert read_study(club).checks.set_index("founding").loc["K1-01", "workers"] == 2


def test_files_of_one_keeper_keep_what_rest_speaks_of(tmp_path: Path) -> None:
    here = study(
        tmp_path / "here",
        foundings_K1=f"{HEADS}\nK1-01,Lasius,2025-05-01,1,,,,\n",
        foundings_K2=f"{HEADS}\nK2-01,Lasius,2025-05-01,1,,,,\n",
        checks_K1_july="founding,date,queens_alive\nrest,2025-07-09,same\n",
    )
    there = study(tmp_path / "there")
    for name, data in unpacked(pack(here).data, "x").items():
        (there / name).write_bytes(data)
    assert set(read_study(here).checks["founding"]) == {"K1-01"}
    assert set(read_study(there).checks["founding"]) == {"K1-01"}


def test_an_entry_can_be_taken_back(ours: Path, theirs: Path) -> None:
    before = sheets(ours)
    path = theirs / "foundings-K1.csv"
    path.write_text(f"{HEADS}\nK1-06,Lasius,2025-05-01,1,,,K1,\n")
    merge(ours, sent(theirs))
    undo(ours)
    after = sheets(ours)
    assert {name: after[name] for name in before} == before
    for name in set(after) - set(before):  # of a new file the headings stay
        assert len(after[name].decode().strip().splitlines()) == 1


def drawn(folder: Path, name: str, *numbers: str) -> bytes:
    """A drawn list of singles with these numbers, put into a study."""
    (folder / "lists").mkdir(exist_ok=True)
    lots = "".join(
        f"{name},7,2025-05-01,1,,kind,{name}-1,{order},,,,{number},single,1,,random\n"
        for order, number in enumerate(numbers, start=1)
    )
    data = (",".join(COLUMNS) + "\n" + lots).encode()
    (folder / "lists" / f"{name}.csv").write_bytes(data)
    return data


def there(folder: Path) -> list[str]:
    return sorted(path.name for path in (folder / "lists").glob("*"))


def test_a_list_that_came_along_goes_with_its_entry_and_is_kept(ours: Path, theirs: Path) -> None:
    data = drawn(theirs, "L1", "K2-01")
    parcel = sent(theirs)
    merge(ours, parcel)
    back = undo(ours)
    assert (back.lists, dict(back.kept)) == (("L1.csv",), {})
    assert there(ours) == []
    (kept,) = (ours / "earlier").glob("lists-L1.*.csv")
    assert kept.read_bytes() == data
    assert merge(ours, parcel).rows["foundings"] == 1  # and can be taken in again
    assert (ours / "lists" / "L1.csv").read_bytes() == data


def test_a_list_alone_can_be_taken_back(ours: Path, theirs: Path) -> None:
    merge(ours, sent(theirs))
    drawn(theirs, "L1")
    merge(ours, sent(theirs))
    assert (undo(ours).rows, there(ours)) == ({}, [])
    assert undo(ours).rows.keys() == {"foundings-K2.csv", "checks-K2.csv", "catches.csv"}


def test_a_list_stays_while_somebody_needs_it(ours: Path, theirs: Path) -> None:
    drawn(theirs, "L1", "K2-01", "K3-01")
    merge(ours, sent(theirs))
    study_k3 = theirs / "foundings-K3.csv"
    study_k3.write_text(f"{HEADS}\nK3-01,Messor,2025-05-02,1,random,L1-1,K3,\n")
    merge(ours, sent(theirs))
    assert undo(ours, "K2").kept == {"L1.csv": "needed"}  # K3-01 is still there
    assert there(ours) == ["L1.csv"]
    assert undo(ours, "K3").lists == ("L1.csv",)
    assert there(ours) == []
    merge(ours, sent(theirs))
    path = ours / "foundings-K1.csv"
    path.write_text(path.read_text().replace("3,,,K1", "3,random,L1-2,K1"))  # by hand
    assert undo(ours).kept == {"L1.csv": "needed"}


def test_a_list_that_was_changed_since_stays(ours: Path, theirs: Path) -> None:
    drawn(theirs, "L1", "K2-01")
    merge(ours, sent(theirs))
    path = ours / "lists" / "L1.csv"
    path.write_bytes(path.read_bytes() + b"\n")
    before = path.read_bytes()
    assert undo(ours).kept == {"L1.csv": "changed"}
    assert path.read_bytes() == before


def test_settings_that_differ_are_told_and_ours_stay(ours: Path, theirs: Path) -> None:
    (theirs / "study.toml").write_text("horizon_days = 90\n")
    done = merge(ours, sent(theirs))
    assert done.settings == (("horizon_days", "180", "90"),)


def test_the_study_itself_and_nothing_at_all_are_refused(ours: Path, tmp_path: Path) -> None:
    for what, told in ((ours, "is the study itself"), (tmp_path / "no", "There is no")):
        with pytest.raises(StudyError, match=told):
            merge(ours, what)


# --- the command ----------------------------------------------------------------------------------


def run(*words: object) -> int:
    with pytest.raises(SystemExit) as end:
        main([str(word) for word in words])
    assert isinstance(end.value.code, int)
    return end.value.code


def test_the_commands(ours: Path, theirs: Path, tmp_path: Path, capsys) -> None:
    packed = tmp_path / "to send.zip"
    assert run("pack", theirs, "--out", packed) == 0
    told = capsys.readouterr().out
    assert "Left out of catches: place." in told
    assert run("merge", ours, packed) == 0
    told = capsys.readouterr().out
    assert "rows of catches 1, foundings 1, checks 1" in " ".join(told.split())
    assert run("merge", ours, packed, theirs) == 0
    path = theirs / "checks-K2.csv"
    path.write_text(path.read_text().replace("2025-05-09,1,0", "2025-05-09,1,4"))
    before = sheets(ours)
    assert run("merge", ours, theirs) == 1
    told = " ".join(capsys.readouterr().out.split())
    assert "CONFLICT in checks: K2-01, 2025-05-09" in told
    assert "workers: 0 here (checks-K2.csv, row 2), 4 sent (checks-K2.csv, row 2)" in told
    assert "1 conflict: this row was not written" in told
    assert sheets(ours) == before
    (tmp_path / "mine.txt").write_text("mine")
    assert run("pack", theirs, "--out", tmp_path / "mine.txt") == 1
    assert (tmp_path / "mine.txt").read_text() == "mine"


# --- what may lie in a file that came by mail -----------------------------------------------------


def zipped(files: dict[str, bytes], manifest: object | None = None) -> bytes:
    import hashlib

    out = io.BytesIO()
    sums = {name: hashlib.sha256(data).hexdigest() for name, data in files.items()}
    told = {"form": "founding-cohort packed study", "version": 1, "files": sums}
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as packet:
        packet.writestr("manifest.json", json.dumps(told if manifest is None else manifest))
        for name, data in files.items():
            packet.writestr(name, data)
    return out.getvalue()


@pytest.mark.parametrize(
    "name",
    ["../evil.csv", "/etc/x.csv", "a/b.csv", "lists/../../x.csv", "C:x.csv", "x.exe", ".x.csv",
     "lists\\x.csv", "con/x.csv", "x.csv/", "lists/a/b.csv", "\u202ex.csv"],
)  # fmt: skip
def test_a_file_that_lies_elsewhere_is_refused(name: str) -> None:
    with pytest.raises(StudyError, match="is no file of a packed study"):
        unpacked(zipped({name: b"x"}), "x.zip")


def test_a_packed_study_is_believed_only_as_its_manifest_says() -> None:
    good = {"foundings.csv": b"founding\n"}
    assert unpacked(zipped(good), "x") == good
    sums = {"foundings.csv": "0" * 64}
    for manifest, told in (
        ({"form": "founding-cohort packed study", "version": 1, "files": sums}, "not as it was"),
        ({"form": "founding-cohort packed study", "version": 1, "files": {}}, "not as it was"),
        ({"form": "founding-cohort packed study", "version": 2, "files": {}}, "form 2"),
        ({"form": "other", "version": 1, "files": {}}, "no packed study"),
        ([], "no manifest"),
    ):
        with pytest.raises(StudyError, match=told):
            unpacked(zipped(good, manifest), "x.zip")
    for data in (b"", b"PK", b"no zip at all", zipped(good)[:-30]):
        with pytest.raises(StudyError, match="damaged, or no packed study"):
            unpacked(data, "x.zip")


def test_one_that_unpacks_without_end_is_refused(monkeypatch) -> None:
    from cohort.desk.share import sent as module

    monkeypatch.setattr(module, "MAX_UNPACKED", 100_000)
    with pytest.raises(StudyError, match="unpacks to more"):
        unpacked(zipped({"a.csv": b"0" * 60_000, "b.csv": b"0" * 60_000}), "x.zip")
    monkeypatch.setattr(module, "MAX_FILES", 3)
    with pytest.raises(StudyError, match="more than 3 files"):
        unpacked(zipped({f"a{n}.csv": b"" for n in range(5)}), "x.zip")
    assert MAX_UNPACKED == 200_000_000


def test_two_files_of_one_name_are_refused() -> None:
    with pytest.raises(StudyError, match="two files of one name"):
        unpacked(zipped({"a.csv": b"1", "A.csv": b"2"}), "x.zip")


# --- for any two studies --------------------------------------------------------------------------


@settings(max_examples=5, deadline=None)
@given(one=STUDY, two=STUDY)
def test_any_two_studies(one, two, tmp_path_factory) -> None:
    merged_twice(one, two, tmp_path_factory.mktemp("any"))  # many more in tests/slow
