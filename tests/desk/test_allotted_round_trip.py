"""From the empty workbook over the drawn list to the history: one founding, told in two places."""

from __future__ import annotations

import datetime as dt
import io
from collections.abc import Mapping
from pathlib import Path

import pytest
import python_calamine as calamine
import xlsxwriter

from cohort.audit import audit
from cohort.base.errors import SheetError
from cohort.cli import main
from cohort.history import history
from cohort.sheets.folder import read_folder
from cohort.sheets.lists import against_lists, read_lists
from cohort.study import read_study

TODAY = dt.date.today()
DAY_0 = dt.date(2024, 7, 5)


def run(capsys: pytest.CaptureFixture[str], *words: str) -> str:
    with pytest.raises(SystemExit) as done:
        main(list(words))
    told = capsys.readouterr()
    assert done.value.code == 0, told.err
    return told.out


def filled(path: Path, more: Mapping[str, list[dict[str, object]]]) -> None:
    """Fill in a workbook as a keeper does; a founding goes into the row of its number."""
    book = calamine.load_workbook(str(path))
    tabs = {name: book.get_sheet_by_name(name).to_python() for name in book.sheet_names}
    for tab, rows in more.items():
        heads = [str(cell) for cell in tabs[tab][0]]
        for row in rows:
            ready = [
                line for line in tabs[tab][1:] if tab == "foundings" and line[0] == row["founding"]
            ]
            line = ready[0] if ready else [""] * len(heads)
            for name, value in row.items():
                line[heads.index(name)] = value
            if not ready:
                tabs[tab].append(line)
    out = io.BytesIO()
    made = xlsxwriter.Workbook(out, {"in_memory": True, "strings_to_formulas": False})
    day = made.add_format({"num_format": "yyyy-mm-dd"})
    for name, rows_ in tabs.items():
        sheet = made.add_worksheet(name)
        for i, line in enumerate(rows_):
            for j, value in enumerate(line):
                if isinstance(value, dt.date):
                    sheet.write_datetime(i, j, dt.datetime.combine(value, dt.time()), day)
                elif value != "":
                    sheet.write(i, j, value)
    made.close()
    path.write_bytes(out.getvalue())


@pytest.fixture
def study(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> Path:
    """Three keepers; for K3 nine queens are allotted: K3-01 to K3-05."""
    place = tmp_path / "study"
    run(capsys, "begin", str(place), "--keepers", "3", "--set", "horizon_days=100")
    words = ("allot", str(place), "--queens", "Messor barbarus=9", "--keeper", "K3", "--seed", "7")
    run(capsys, *words, "--started", DAY_0.isoformat(), "--write")
    return place


def plan(study: Path) -> dict[str, int]:
    lists = read_lists(study)
    return dict(zip(lists["founding"], lists["queens"].astype(int), strict=True))


def found(study: Path, level: str) -> list[str]:
    return [f.what for f in audit(read_folder(study), TODAY) if f.level == level]


def test_the_round_trip(study: Path, capsys: pytest.CaptureFixture[str]) -> None:
    queens = plan(study)
    assert sorted(queens) == [f"K3-{n:02d}" for n in range(1, len(queens) + 1)]
    bytes_before = (study / "foundings-K3.csv").read_bytes()
    looks = [
        {
            "founding": number,
            "date": DAY_0 + dt.timedelta(days=day),
            "queens_alive": str(left if day < 40 else 1),
            "workers": "0" if day < 40 else "5",
        }
        for number, left in queens.items()
        for day in range(0, 51, 5)
    ]
    rows: list[dict[str, object]] = [
        {
            "founding": number,
            "genus": "Messor",
            "started": DAY_0,
            "queens": many,
            "housing": "test-tube",
            "note": "by the window",
        }
        for number, many in queens.items()
    ]
    filled(study / "K3.xlsx", {"foundings": rows, "checks": looks})
    out = run(capsys, "audit", str(study), "--strict")
    assert "nothing to correct" in out
    assert f"{len(queens)} foundings" in out
    assert (study / "foundings-K3.csv").read_bytes() == bytes_before
    made = read_study(study)
    table = made.foundings.set_index("founding")
    assert table["queens"].to_dict() == queens
    assert set(table["note"]) == {"by the window"}  # hers
    assert set(table["assigned"]) == {"random"}  # of the list
    assert set(table["species"]) == {""}  # she named the genus, so nothing is added to it
    assert set(table["file"]) == {"K3.xlsx"}
    assert table["block"].str.startswith("L1-").all()
    assert against_lists(made.foundings, read_lists(study)) == []
    past = history(made)
    assert past.foundings["founding"].tolist() == sorted(queens)
    assert past.foundings["size"].tolist() == [queens[n] for n in sorted(queens)]
    one = past.foundings.iloc[0]
    assert (one["first_after"], one["first_by"]) == (35, 40)


def test_what_is_left_blank_comes_from_the_list(study: Path) -> None:
    queens = plan(study)
    filled(study / "K3.xlsx", {"foundings": [{"founding": "K3-01", "housing": "vial"}]})
    assert found(study, "error") == found(study, "warning") == []
    table = read_study(study).foundings.set_index("founding")
    assert len(table) == len(queens)
    first = table.loc["K3-01"]
    assert (first["genus"], first["species"], first["queens"]) == (
        "Messor",
        "barbarus",
        queens["K3-01"],
    )
    assert (first["housing"], first["started"].date()) == ("vial", DAY_0)
    assert table["file"].value_counts().to_dict() == {
        "foundings-K3.csv": len(queens) - 1,
        "K3.xlsx": 1,
    }


@pytest.mark.parametrize(
    ("change", "level", "words"),
    [
        (
            {"started": DAY_0 + dt.timedelta(days=1)},
            "note",
            "started: here 2024-07-06, there 2024-07-05",
        ),
        ({"queens": 2}, "warning", "queens: here 2, there"),
        ({"assigned": "chosen"}, "warning", "assigned: here chosen, there random"),
        ({"genus": "Lasius"}, "error", "The list gave K3-01 to Messor"),
        ({"keeper": "K1", "note": "x"}, "error", "The list gave K3-01 to keeper K3"),
    ],
)
def test_where_the_two_differ_her_row_counts_and_it_is_told(
    change: dict[str, object], level: str, words: str, study: Path
) -> None:
    filled(study / "K3.xlsx", {"foundings": [{"founding": "K3-01", **change}]})
    told = [f for f in audit(read_folder(study), TODAY) if f.rule == "allotted-row"]
    assert [f.level for f in told] == [level]
    assert words in told[0].what
    assert "foundings-K3.csv, row 2" in told[0].what
    assert (told[0].file, told[0].tab, told[0].row) == ("K3.xlsx", "foundings", 2)
    others = [f for f in audit(read_folder(study), TODAY) if f.level == "error" and f not in told]
    assert others == []
    if level == "error":
        with pytest.raises(SheetError):
            read_study(study)
        return
    first = read_study(study).foundings.set_index("founding").loc["K3-01"]
    for name, value in change.items():
        got = first[name].date() if name == "started" else first[name]
        assert got == value


def test_two_rows_of_one_number_that_no_list_gave_stay_an_error(study: Path) -> None:
    with (study / "foundings-K2.csv").open("w") as file:
        file.write("founding,genus,started,queens,keeper\nK2-01,Messor,2024-07-05,1,K2\n")
    row = {"founding": "K2-01", "genus": "Messor", "started": DAY_0, "queens": 3}
    filled(study / "K2.xlsx", {"foundings": [row]})
    assert any("used already" in what for what in found(study, "error"))


def test_queens_filled_in_twice_are_housed_once(
    study: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (study / "catches.csv").write_text(
        "catch,date,genus,queens,keeper\nC1,2024-07-05,Messor,12,K1\n"
    )
    run(capsys, "allot", str(study), "--seed", "1", "--started", DAY_0.isoformat(), "--write")
    lots = read_lists(study)
    rows: list[dict[str, object]] = [
        {"founding": number, "queens": int(queens), "catch": "C1"}
        for number, queens in zip(lots["founding"], lots["queens"], strict=True)
        if number.startswith("K1")
    ]
    filled(study / "K1.xlsx", {"foundings": rows})
    (study / "catches.csv").write_text(
        "catch,date,genus,queens,keeper\nC1,2024-07-05,Messor,16,K1\n"
    )
    from cohort.desk.allot_study import pools_from_catches

    assert [pool.queens for pool in pools_from_catches(read_folder(study))] == [4]


def test_log_and_paper_know_the_founding(study: Path, capsys: pytest.CaptureFixture[str]) -> None:
    filled(study / "K3.xlsx", {"foundings": [{"founding": "K3-01", "note": "x"}]})
    many = str(plan(study)["K3-01"])
    run(
        capsys,
        "log",
        str(study),
        "K3-01",
        "--alive",
        many,
        "--workers",
        "0",
        "--date",
        "2024-07-09",
    )
    run(
        capsys,
        "log",
        str(study),
        "rest",
        "--keeper",
        "K3",
        "--alive",
        "same",
        "--date",
        "2024-07-09",
    )
    looks = read_study(study).checks
    assert looks["founding"].tolist() == sorted(plan(study))


def test_a_list_that_was_altered_is_a_warning_wherever_the_study_is_read(study: Path) -> None:
    path = study / "lists" / "L1.csv"
    path.write_text(path.read_text().replace(",random", ",random,x", 1))
    (told,) = (f for f in audit(read_folder(study), TODAY) if f.rule == "list-altered")
    assert (told.level, told.file, told.row) == ("warning", "lists/L1.csv", 2)
