"""`cohort begin`: one workbook per keeper, nothing overwritten."""

from __future__ import annotations

import datetime as dt
import io
import zipfile
from pathlib import Path

import pytest
import python_calamine as calamine

from cohort.base.errors import StudyError
from cohort.cli import main
from cohort.desk.begin import begin
from cohort.sheets.folder import read_folder
from cohort.sheets.raw import column_name
from cohort.terms.contract import SETTINGS, SHEETS

BLANK = Path(__file__).parents[2] / "data" / "blank"


def test_one_workbook_per_keeper_with_tabs_and_numbers(tmp_path: Path) -> None:
    begun = begin(tmp_path / "new", 5)
    assert [path.name for path in begun.written] == [f"K{n}.xlsx" for n in range(1, 6)]
    for sign, path in zip(("K1", "K5"), (begun.written[0], begun.written[4]), strict=True):
        book = calamine.load_workbook(str(path))
        assert book.sheet_names == ["words", *SHEETS]
        for name, sheet in SHEETS.items():
            rows = book.get_sheet_by_name(name).to_python()
            if name == "study":
                assert [row[0] for row in rows[1:]] == list(SETTINGS)
            else:
                assert tuple(column_name(str(cell)) for cell in rows[0]) == sheet.names
        numbers = [row[0] for row in book.get_sheet_by_name("foundings").to_python()[1:]]
        assert numbers[:2] == [f"{sign}-01", f"{sign}-02"]
        assert len(numbers) == 99


def test_every_word_of_the_contract_is_explained_with_its_example(tmp_path: Path) -> None:
    begin(tmp_path, 1)
    rows = calamine.load_workbook(str(tmp_path / "K1.xlsx")).get_sheet_by_name("words").to_python()
    said = {str(cell) for row in rows for cell in row}
    others = [sheet for name, sheet in SHEETS.items() if name != "study"]
    for column in [*SETTINGS.values(), *(c for sheet in others for c in sheet.columns)]:
        assert column.name in said
        assert column.example in said
        assert set(column.allowed) <= said | {", ".join(column.allowed)} or column.kind == "yes-no"


def test_what_is_there_is_never_overwritten(tmp_path: Path) -> None:
    begin(tmp_path, 2)
    mine = tmp_path / "K2.xlsx"
    mine.write_bytes(b"my own work")
    begun = begin(tmp_path, 3)
    assert [path.name for path in begun.written] == ["K3.xlsx"]
    assert [path.name for path in begun.left] == ["K1.xlsx", "K2.xlsx"]
    assert mine.read_bytes() == b"my own work"
    with pytest.raises(StudyError, match="never overwritten"):
        begin(tmp_path, 3)


def test_a_study_just_begun_reads_without_findings_but_that_it_is_empty(tmp_path: Path) -> None:
    begin(tmp_path, 3, settings={"title": "Try", "horizon_days": "160", "leave_out": "mites"})
    sheets = read_folder(tmp_path)
    assert sheets.notices == ()
    from cohort.audit import examine

    examined = examine(sheets, dt.date(2026, 7, 1))
    assert [f.rule for f in examined.findings] == ["empty-sheet"]
    assert examined.settings.title == "Try"
    assert examined.settings.horizon_days == 160
    assert examined.settings.leave_out == ("mites",)


@pytest.mark.parametrize(
    "bad",
    [
        {"keepers": 0},
        {"keepers": 1000},
        {"keepers": ["../x"]},
        {"keepers": ["K1", "k1"]},
        {"keepers": ["a/b"]},
        {"keepers": 1, "numbers": 0},
        {"keepers": 1, "settings": {"titel": "x"}},
    ],
)
def test_misuse_is_told(bad: dict[str, object], tmp_path: Path) -> None:
    with pytest.raises(StudyError):
        begin(tmp_path / "new", **bad)  # type: ignore[arg-type] - wrong on purpose
    assert list(tmp_path.rglob("*.xlsx")) == []


def test_the_command(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as done:
        main(
            [
                "begin",
                str(tmp_path / "s"),
                "--signs",
                "A,B",
                "--title",
                "Try",
                "--set",
                "look_every=5",
            ]
        )
    assert done.value.code == 0
    assert "A.xlsx" in capsys.readouterr().out
    with pytest.raises(SystemExit) as done:
        main(["begin", str(tmp_path / "s"), "--signs", "A,B"])
    assert done.value.code == 1
    with pytest.raises(SystemExit) as done:
        main(["begin", str(tmp_path / "t"), "--set", "x"])
    assert done.value.code == 2


def test_the_blank_set_in_the_project_is_what_the_contract_makes() -> None:
    from cohort.desk.allot import Ask
    from cohort.desk.print import night_list
    from cohort.desk.print.blank_set import LIST, SEED
    from cohort.sheets.blank import blank_workbook
    from cohort.sheets.lists import read_lists

    with (
        zipfile.ZipFile(BLANK / "workbook.xlsx") as there,
        zipfile.ZipFile(io.BytesIO(blank_workbook())) as made,
    ):
        assert there.namelist() == made.namelist()
        assert [n for n in made.namelist() if there.read(n) != made.read(n)] == []
    lots = read_lists(BLANK)
    drawn = [
        size for column in night_list(Ask(), SEED).columns for block in column for size in block
    ]
    assert lots["queens"].tolist() == drawn
    assert set(lots["list"]) == {LIST}
    for name in ("night-sheet.pdf", "check-sheet.pdf", "check-sheet-one-day.pdf"):
        assert (BLANK / name).read_bytes().startswith(b"%PDF")


def test_a_workbook_cut_off_while_it_was_written_is_not_taken_for_one(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The disk is full in the middle of the second: what is left is whole, and begun again."""
    from cohort.sheets import put

    real, seen = put.os.fsync, 0

    def full(handle: int) -> None:
        nonlocal seen
        seen += 1
        if seen > 2:  # the first workbook and its folder
            raise OSError(28, "No space left on device")
        real(handle)

    with monkeypatch.context() as patch:
        patch.setattr(put.os, "fsync", full)
        with pytest.raises(StudyError, match=r"No space left on device.*before: K1\.xlsx"):
            begin(tmp_path, 3)
    assert {p.name for p in tmp_path.iterdir()} == {"K1.xlsx"}
    assert [p.name for p in begin(tmp_path, 3).written] == ["K2.xlsx", "K3.xlsx"]


def test_a_workbook_that_is_a_link_is_left_alone(tmp_path: Path) -> None:
    (tmp_path / "study").mkdir()
    (tmp_path / "study" / "K1.xlsx").symlink_to(tmp_path / "gone.xlsx")
    begun = begin(tmp_path / "study", 2)
    assert [path.name for path in begun.left] == ["K1.xlsx"]
    assert not (tmp_path / "gone.xlsx").exists()


def test_numbers_that_are_used_do_not_stand_ready_in_a_new_workbook(tmp_path: Path) -> None:
    """A keeper whose foundings were brought first, and who then gets a workbook."""
    from cohort.sheets.ready import ready_numbers

    (tmp_path / "foundings-K4.csv").write_text(
        "founding,genus,started,queens,keeper\nK4-07,Lasius,2024-07-01,1,K4\n"
    )
    begin(tmp_path, ["K4", "K5"], numbers=3)
    assert ready_numbers(tmp_path, read_folder(tmp_path)) == (
        *("K4-08", "K4-09", "K4-10"),
        *("K5-01", "K5-02", "K5-03"),
    )
