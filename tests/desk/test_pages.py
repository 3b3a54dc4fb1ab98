"""The printed sheets, read back from the PDF by another library (pypdf)."""

from __future__ import annotations

import io
import re
from pathlib import Path

import pytest
from pypdf import PdfReader

from cohort.base.errors import StudyError
from cohort.cli import main
from cohort.desk.allot import Ask
from cohort.desk.begin import begin
from cohort.desk.print import CheckRow, check_sheet, label_sheet, night_list, night_sheet
from cohort.desk.print.open import open_rows
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
    rows = [CheckRow(f"K2-{n:02d}", "Lasius", True, "3 12+") for n in range(1, 21)]
    out = pages(check_sheet(rows, keeper="K2", dates=6))
    assert len(out) == 2
    assert all(" ".join(out).count(row.number) == 1 for row in rows)
    assert out[0].count("date") >= 6
    assert "3 12+" in out[0]
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
    assert some.last.split(" ")[0] == str(last[some.number])
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


# --- whose numbers ------------------------------------------------------------------------------


def printed(words: list[str], capsys: pytest.CaptureFixture[str]) -> tuple[int, str, str]:
    with pytest.raises(SystemExit) as done:
        main(["print", *words])
    assert isinstance(done.value.code, int)
    told = capsys.readouterr()
    return done.value.code, told.out, told.err


def numbers_on(path: Path) -> set[str]:
    return set(re.findall(r"[A-Za-z_]\w*-\d\d+(?!\.)", " ".join(pages(path.read_bytes()))))


@pytest.fixture
def begun(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A study of three keepers in which one has started."""
    monkeypatch.chdir(tmp_path)
    begin(tmp_path / "study", 3)
    (tmp_path / "study" / "foundings-K2.csv").write_text(
        "founding,genus,started,queens\nK2-01,Lasius,2024-07-01,3\nK2-02,Lasius,2024-07-01,1\n"
    )
    return tmp_path / "study"


def test_without_a_sign_each_keeper_gets_a_sheet(
    begun: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    code, out, _ = printed(["night", str(begun), "--seed", "4"], capsys)
    assert code == 0
    sheets = {p.name for p in begun.parent.glob("night-*.pdf")}
    assert sheets == {"night-K1-L1.pdf", "night-K2-L2.pdf", "night-K3-L3.pdf"}
    lists = read_lists(begun)
    assert lists.groupby("list")["keeper"].first().to_dict() == {"L1": "K1", "L2": "K2", "L3": "K3"}
    orders = lists.groupby("list")["queens"].agg(tuple)
    assert orders.nunique() == 3  # lots of their own
    assert out.count("Wrote ") == 6
    code, _, _ = printed(["labels", str(begun), "--numbers", "4"], capsys)
    assert code == 0
    for sign, first in (("K1", 1), ("K2", 3), ("K3", 1)):
        (labels_,) = begun.parent.glob(f"labels-{sign}-*.pdf")
        assert numbers_on(labels_) == {f"{sign}-{n:02d}" for n in range(first, first + 4)}
        (night_,) = begun.parent.glob(f"night-{sign}-*.pdf")
        assert {f"{sign}-{first:02d}", f"{sign}-{first + 15:02d}"} <= numbers_on(night_)
        assert not any(number.startswith("__") for number in numbers_on(night_))


def test_one_file_for_several_keepers_is_refused_and_nothing_is_written(
    begun: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    for what in ("night", "labels"):
        code, _, err = printed([what, str(begun), "--out", "x.pdf"], capsys)
        assert code == 1
        assert "K1, K2, K3" in err
    assert not (begun / "lists").exists()
    assert list(begun.parent.glob("*.pdf")) == []
    code, _, _ = printed(["labels", str(begun), "--keeper", "k2", "--out", "x.pdf"], capsys)
    assert code == 0
    assert "K2-03" in numbers_on(begun.parent / "x.pdf")


def test_a_study_without_keepers_and_none_at_all_have_numbers_to_fill_in(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    study = tmp_path / "study"
    study.mkdir()
    (study / "foundings.csv").write_text("founding,genus,started,queens\n7,Lasius,2024-07-01,3\n")
    for place in ([str(study)], []):
        code, _, _ = printed(["labels", *place, "--out", "x.pdf"], capsys)
        assert code == 0
        assert "__-01" in numbers_on(tmp_path / "x.pdf")


@pytest.mark.parametrize("name", ["foundings-K2.csv", "foundings.csv"])
def test_a_blank_keeper_is_known_by_number(
    name: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / name).write_text(
        "founding,genus,started,queens,keeper\nK2-01,Lasius,2024-07-01,3,\n"
        "K2-03,Lasius,2024-07-01,1,\n"
    )
    (tmp_path / "foundings-K1.csv").write_text(
        "founding,genus,started,queens,keeper\nK1-01,Lasius,2024-07-01,3,K1\n"
    )
    made = read_study(tmp_path)
    assert [row.number for row in open_rows(made, "k2")] == ["K2-01", "K2-03"]
    known = ["K1", "K2", "K2"] if name == "foundings-K2.csv" else ["K1", "", ""]
    assert made.foundings["keeper"].tolist() == known  # told apart only where both agree
    with pytest.raises(SystemExit) as done:
        main(["due", str(tmp_path), "--keeper", "K2", "--on", "2024-07-09"])
    assert done.value.code == 0
    out = capsys.readouterr().out
    assert "K2-03" in out
    assert "K1-01" not in out
    with pytest.raises(SystemExit) as done:
        main(["audit", str(tmp_path), "--letters", str(tmp_path / "letters")])
    letters = {p.name for p in (tmp_path / "letters").iterdir()}
    assert ("letter-K2.txt" in letters) == (name == "foundings-K2.csv")


def test_paper_is_never_written_over_a_sheet(
    begun: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    sheet = begun / "foundings-K2.csv"
    before = sheet.read_bytes()
    for what in ("checks", "labels", "night"):
        code, _, err = printed([what, str(begun), "--keeper", "K2", "--out", str(sheet)], capsys)
        assert code == 1
        assert "is there already" in err
    assert sheet.read_bytes() == before
    assert not (begun / "lists").exists()
    (tmp_path / "real.pdf").write_bytes(b"%PDF-old")
    (tmp_path / "link.pdf").symlink_to("real.pdf")
    code, _, _ = printed(["labels", "--out", str(tmp_path / "link.pdf")], capsys)
    assert code == 0
    assert (tmp_path / "link.pdf").is_symlink()
    assert len(pages((tmp_path / "real.pdf").read_bytes())) == 1


def test_a_list_folder_that_is_a_link_is_not_followed(
    begun: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "away").mkdir()
    (begun / "lists").symlink_to(tmp_path / "away")
    code, _, err = printed(["night", str(begun), "--keeper", "K1"], capsys)
    assert code == 1
    assert "is a link" in err
    assert list((tmp_path / "away").iterdir()) == []
    assert list(tmp_path.glob("*.pdf")) == []
