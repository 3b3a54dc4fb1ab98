"""The printed sheets, read back from the PDF by another library (pypdf)."""

from __future__ import annotations

import io
from pathlib import Path

import pytest
from pypdf import PdfReader

from cohort.allot import Ask
from cohort.cli import main
from cohort.errors import StudyError
from cohort.print import CheckRow, check_sheet, label_sheet, night_list, night_sheet
from cohort.print.open import open_rows
from cohort.sheets.cautions import CAUTIONS
from cohort.sheets.lists import read_lists
from cohort.sheets.numbers import keeper_of, next_numbers
from cohort.study import read_study

DEMO = Path(__file__).parents[2] / "data" / "demo"


def pages(pdf: bytes) -> list[str]:
    return [" ".join(page.extract_text().split()) for page in PdfReader(io.BytesIO(pdf)).pages]


def test_night_sheet_has_numbers_twice_lots_in_order_and_cautions() -> None:
    lots = night_list(Ask(), 7, name="L2")
    numbers = next_numbers("K2", ["K2-03"], 16)
    first, second, third = pages(night_sheet(lots, numbers, keeper="K2", leave_out=["mites"]))
    assert all(first.count(number) == 1 for number in numbers)
    assert all(third.count(number) == 2 for number in numbers)
    for word, text in CAUTIONS:
        assert f"{word}:" in first
        assert text[:30] in first
    assert "(mites)" in first
    assert second.count("ONE ALONE") == second.count("THREE TOGETHER") == 18
    for c, column in enumerate(lots.columns):
        for b, block in enumerate(column):
            for order, size in enumerate(block, start=1):
                at = second.index(f"L2-{'ABC'[c]}{b + 1}.{order} ")
                word = "ONE ALONE" if size == 1 else "THREE TOGETHER"
                assert second[at : at + 30].split(" ", 1)[1].startswith(word)
    assert not any(f"{word} ALONE" in first for word in ("ONE",))


def test_check_sheet_has_a_row_for_each_founding() -> None:
    rows = [CheckRow(f"K2-{n:02d}", "Lasius", True, "3 · 12+") for n in range(1, 21)]
    out = pages(check_sheet(rows, keeper="K2", dates=6))
    assert len(out) == 2
    assert all(" ".join(out).count(row.number) == 1 for row in rows)
    assert out[0].count("alive") >= 7
    assert "3 · 12+" in out[0]
    (one,) = pages(check_sheet(rows, dates=1))
    assert "K2-20" in one


def test_what_a_keeper_wrote_is_never_mark_up() -> None:
    evil = '#panic("x") $a$ *b* _c_ <d> @e \\'
    (page,) = pages(check_sheet([CheckRow("#1", evil, False, "[x]")], keeper="#let"))
    assert "panic" in page
    assert "*b*" in page


def test_labels_come_two_by_two() -> None:
    out = pages(label_sheet(next_numbers("K2", (), 30), line="2026"))
    assert all(" ".join(out).count(f"K2-{n:02d}") == 2 for n in range(1, 31))


def test_the_same_data_give_the_same_bytes() -> None:
    assert label_sheet(["K1-01"]) == label_sheet(["K1-01"])


@pytest.mark.parametrize(
    "bad",
    [
        lambda: label_sheet([]),
        lambda: label_sheet(["x"], paper="a0"),
        lambda: check_sheet([CheckRow("x")], dates=9),
        lambda: night_list(Ask(), 1, kinds=9),
        lambda: night_list(Ask(), -1),
    ],
)
def test_misuse_is_told(bad: object) -> None:
    with pytest.raises(StudyError):
        bad()  # type: ignore[operator] - a function of the list above


def test_letter_paper_is_letter() -> None:
    box = PdfReader(io.BytesIO(label_sheet(["K1-01"], paper="letter"))).pages[0].mediabox
    assert (round(float(box.width)), round(float(box.height))) == (612, 792)  # 8.5 by 11 inches


def test_open_foundings_of_the_demo() -> None:
    study = read_study(DEMO)
    rows = {row.number: row for row in open_rows(study)}
    ended = set(study.events.loc[study.events["event"] == "end", "founding"])
    assert not ended & set(rows)
    counted = study.checks[study.checks["queens_alive"].notna()]
    last = counted.groupby("founding")["queens_alive"].last()
    assert {n for n in last.index if last[n] > 0} - ended <= set(rows)
    assert not {n for n in last.index if last[n] == 0} & set(rows)
    some = next(iter(rows.values()))
    assert some.last.split(" · ")[0] == str(last[some.number])
    only = open_rows(study, "k1")
    assert only
    assert {keeper_of(row.number) for row in only} == {"K1"}


def test_numbers_follow_the_highest_used() -> None:
    assert next_numbers("K2", ["K2-07", "K1-50", "K2-x", "K22-90"], 2) == ("K2-08", "K2-09")
    assert next_numbers("K2", [], 1) == ("K2-01",)
    assert next_numbers("K2", ["K2-99"], 2) == ("K2-100", "K2-101")


def test_the_commands(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    study = tmp_path / "study"
    study.mkdir()
    (study / "foundings.csv").write_text(
        "founding,genus,started,queens,keeper\nK2-01,Lasius,2024-07-01,3,K2\n"
    )
    (study / "study.toml").write_text('season = "2024"\nleave_out = ["mites"]\n')
    for words, code in (
        (["night", str(study), "--keeper", "K2", "--seed", "4", "--out"], 0),
        (["night", str(study), "--keeper", "K2", "--seed", "4", "--out"], 1),
        (["checks", str(study), "--keeper", "K2", "--out"], 0),
        (["labels", str(study), "--keeper", "K2", "--out"], 0),
        (["checks", str(study), "--keeper", "K9", "--out"], 1),
        (["labels", "--numbers", "0", "--out"], 2),
    ):
        with pytest.raises(SystemExit) as done:
            main(["print", *words, str(tmp_path / f"{words[0]}.pdf")])
        assert done.value.code == code, words
    assert {p.name for p in tmp_path.glob("*.pdf")} == {"night.pdf", "checks.pdf", "labels.pdf"}
    lists = read_lists(study)
    assert set(lists["seed"]) == {"4"}
    assert lists["founding"].eq("").all()
    first = pages((tmp_path / "night.pdf").read_bytes())[0]
    assert "K2-02" in first
    assert "K2-01" not in first
    assert "Traceback" not in capsys.readouterr().err
