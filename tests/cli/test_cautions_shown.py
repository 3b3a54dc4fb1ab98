"""Each command that a keeper acts on ends with its caution, law first."""

from __future__ import annotations

import io
from pathlib import Path

import pytest
from pypdf import PdfReader

from cohort.cli import main
from cohort.desk.print import CheckRow, check_sheet
from cohort.sheets.cautions import LINES

STING = "A sting of {} can cause a whole-body allergy"


def run(capsys: pytest.CaptureFixture[str], *words: str) -> str:
    with pytest.raises(SystemExit) as done:
        main(list(words))
    assert done.value.code in (0, None)
    return capsys.readouterr().out


@pytest.fixture
def study(tmp_path: Path) -> Path:
    folder = tmp_path / "s"
    folder.mkdir()
    (folder / "foundings-K1.csv").write_text(
        "founding,genus,species,started,queens,keeper\n"
        "K1-01,Myrmica,rubra,2026-06-01,1,K1\nK1-02,Lasius,niger,2026-06-01,3,K1\n",
        encoding="utf-8",
    )
    (folder / "checks-K1.csv").write_text(
        "founding,date,queens_alive,workers\nK1-01,2026-06-05,1,0\nK1-02,2026-06-05,3,0\n",
        encoding="utf-8",
    )
    return folder


def test_begin(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert LINES["begin"] in run(capsys, "begin", str(tmp_path / "new"))


def test_bring(study: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    mine = tmp_path / "mine.csv"
    mine.write_text("founding,started,genus,queens\n1,2026-06-01,Lasius,2\n", encoding="utf-8")
    out = run(capsys, "bring", str(mine), str(study), "--keeper", "K9", "--failed", "all")
    assert out.count(LINES["bring"]) == 1
    assert "permit" in LINES["bring"]


def test_due_names_the_cautions_of_what_is_open(
    study: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = run(capsys, "due", str(study), "--on", "2026-06-08")
    assert out.count(LINES["due"]) == 1
    assert out.count(STING.format("Myrmica")) == 1
    assert "Myrmica rubra is native to Europe" in out


@pytest.mark.parametrize(("genus", "stings"), [("Lasius", False), ("Myrmica", True)])
def test_plan(genus: str, stings: bool, capsys: pytest.CaptureFixture[str]) -> None:
    out = run(capsys, "plan", "--queens", "2", "--genus", genus)
    assert LINES["plan"] in out
    assert (STING.format(genus) in out) is stings


def test_allot_says_law_first_then_what_belongs_to_the_kinds(
    study: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    common = run(capsys, "allot", str(study), "--queens", "Lasius=4", "--keeper", "K1")
    assert LINES["allot"] in common
    assert "A sting of" not in common
    queens = "Pogonomyrmex=4,Manica=4"
    out = run(capsys, "allot", str(study), "--queens", queens, "--keeper", "K1")
    order = [
        out.index(part)
        for part in (LINES["allot"], "offer food", STING.format("Manica or Pogonomyrmex"))
    ]
    assert order == sorted(order)


def test_kinds_without_lone_queens_get_no_lots(
    study: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    for kind in ("Diacamma", "Megaponera", "Formicoxenus", "Pseudoatta"):
        with pytest.raises(SystemExit) as done:
            main(["allot", str(study), "--queens", f"{kind}=4", "--keeper", "K1"])
        assert done.value.code == 1
    assert "alone" in capsys.readouterr().err


@pytest.mark.parametrize(("rows", "dates"), [(15, 6), (21, 1)])
def test_the_check_sheet_has_its_line_on_every_page_and_no_page_more(rows: int, dates: int) -> None:
    pdf = PdfReader(
        io.BytesIO(check_sheet([CheckRow(f"K1-{n:02d}") for n in range(rows)], dates=dates))
    )
    assert len(pdf.pages) == 1
    text = " ".join(pdf.pages[0].extract_text().split())
    assert LINES["checks"] in text
