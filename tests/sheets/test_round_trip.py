"""Sheets through a real spreadsheet program and back: the same Study to the value.

The check is against a program outside this project (LibreOffice, headless), which opens our CSV
files by its own rules, makes dates and numbers of what it takes for such, and saves them anew.
The CSV files are opened as its dialog proposes, with "detect special numbers" off: switched on,
it takes ``10+`` for the number 10, which no reader could see afterwards.
"""

from __future__ import annotations

import datetime as dt
import io
import re
import shutil
import subprocess
import zipfile
from pathlib import Path

import pandas as pd
import pytest

from cohort.sheets.blank import blank_workbook
from cohort.sheets.folder import read_folder
from cohort.sheets.guard import guard
from cohort.study import Study, read_study

DEMO = Path(__file__).parents[2] / "data" / "demo"
FRAMES = ("kinds", "foundings", "checks", "events", "catches", "temperatures")
LATER = dt.date(2026, 6, 1)
# A note that is nothing but digits (007, 1E5) is not among them: every spreadsheet program makes a
# number of it when it opens a CSV file, and the zeros are gone.
NASTY = (
    "=1+1",
    "+49 is no number here",
    "-a dash first",
    "@home",
    '=HYPERLINK("x")',
    "'quoted at the start",
    "'=already guarded",
    'he said "3, not 4"; twice',
    "Ä é 蟻 🐜",
    "2026-07-04",
    "TRUE",
    "3/4",
    "#N/A",
    "[x](y)",
)


def convert(files: list[Path], to: str, out: Path, profile: Path) -> None:
    """Files through the program; CSV is read and written as UTF-8 with commas."""
    extra = ["--infilter=CSV:44,34,76,1,,0,false,false"] if files[0].suffix == ".csv" else []
    target = "csv:Text - txt - csv (StarCalc):44,34,76" if to == "csv" else to
    done = subprocess.run(
        [
            "soffice",
            f"-env:UserInstallation=file://{profile}",
            "--headless",
            *extra,
            "--convert-to",
            target,
            "--outdir",
            str(out),
            *map(str, files),
        ],
        capture_output=True,
        text=True,
        timeout=180,
        check=False,
    )
    made = {path.stem for path in out.glob(f"*.{to}")}
    assert made >= {path.stem for path in files}, done.stdout + done.stderr


def others(source: Path, target: Path) -> None:
    """Copy what is no CSV file (settings, check notes)."""
    for path in source.iterdir():
        if path.suffix in (".toml", ".txt"):
            shutil.copy(path, target / path.name)


def assert_same(first: Study, second: Study) -> None:
    assert first.settings == second.settings
    for name in FRAMES:
        one, two = getattr(first, name), getattr(second, name)
        drop = [column for column in ("file", "row") if column in one]
        pd.testing.assert_frame_equal(one.drop(columns=drop), two.drop(columns=drop), obj=name)


@pytest.fixture(scope="module")
def source(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The demo, with notes that a spreadsheet would like to run or to alter."""
    folder = tmp_path_factory.mktemp("source") / "study"
    folder.mkdir()
    for path in DEMO.iterdir():
        if path.is_file():
            shutil.copy(path, folder / path.name)
    path = folder / "events-K1.csv"
    rows = [
        f'K1-01,2025-06-{n + 1:02d},moved,,,"{guard(text).replace(chr(34), chr(34) * 2)}"'
        for n, text in enumerate(NASTY)
    ]
    path.write_text(path.read_text("utf-8") + "\n".join(rows) + "\n", "utf-8")
    return folder


@pytest.mark.needs_program("soffice")
@pytest.mark.parametrize("kind", ["xlsx", "ods"])
def test_csv_to_workbook_and_back_is_the_same_study(
    kind: str, source: Path, tmp_path: Path
) -> None:
    books, back = tmp_path / "books", tmp_path / "back"
    books.mkdir()
    back.mkdir()
    profile = tmp_path / "profile"
    convert(sorted(source.glob("*.csv")), kind, books, profile)
    others(source, books)
    typed = read_study(source, today=LATER)
    kept = typed.events[typed.events["event"] == "moved"]["note"].tolist()
    assert set(NASTY) <= set(kept)
    assert_same(typed, read_study(books, today=LATER))
    convert(sorted(books.glob(f"*.{kind}")), "csv", back, profile)
    others(source, back)
    assert_same(typed, read_study(back, today=LATER))


def test_the_comparison_can_fail(source: Path, tmp_path: Path) -> None:
    changed = tmp_path / "changed"
    shutil.copytree(source, changed)
    path = changed / "checks-K1.csv"
    text = path.read_text("utf-8")
    path.write_text(text.replace("K1-01,2025-05-15,1,0", "K1-01,2025-05-16,1,0"), "utf-8")
    with pytest.raises(AssertionError, match="checks"):
        assert_same(read_study(source, today=LATER), read_study(changed, today=LATER))


@pytest.mark.needs_program("soffice")
def test_a_keepers_workbook_saved_by_another_program_is_the_same(tmp_path: Path) -> None:
    """A workbook of `begin`, filled in, saved as ODS and again as XLSX by the other program."""
    first, second, third = (tmp_path / name for name in ("first", "second", "third"))
    for folder in (first, second, third):
        folder.mkdir()
    filled = filled_workbook()
    (first / "K1.xlsx").write_bytes(filled)
    convert([first / "K1.xlsx"], "ods", second, tmp_path / "profile")
    convert([second / "K1.ods"], "xlsx", third, tmp_path / "profile")
    typed = read_study(first, today=LATER)
    assert typed.foundings["founding"].tolist() == ["K1-01", "K1-02"]
    assert typed.checks["workers_at_least"].tolist() == [False, False, True]
    assert typed.settings.title == "Try"
    for folder in (second, third):
        assert read_folder(folder).notices == ()
        assert_same(typed, read_study(folder, today=LATER))


def filled_workbook() -> bytes:
    """A blank workbook with a few rows put into its parts, as a keeper would fill it."""
    out = io.BytesIO()
    with (
        zipfile.ZipFile(io.BytesIO(blank_workbook("K1", settings={"title": "Try"}))) as old,
        zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as new,
    ):
        for name in old.namelist():
            part = old.read(name)
            place = b"5" if name.endswith("sheet4.xml") else b"2"  # the column of dates
            style = re.search(rb'<col min="%s" max="%s" [^>]*style="(\d+)"' % (place, place), part)
            day = style[1].decode() if style else ""
            if name == "xl/worksheets/sheet4.xml":  # foundings
                for row, queens in ((2, 1), (3, 3)):
                    cells = (
                        f'<c r="B{row}" t="inlineStr"><is><t>Lasius</t></is></c>'
                        f'<c r="E{row}" s="{day}"><v>45847</v></c>'
                        f'<c r="F{row}"><v>{queens}</v></c>'
                    ).encode()
                    part = re.sub(rb'(<c r="A%d"[^>]*>.*?</c>)' % row, rb"\1" + cells, part)
            if name == "xl/worksheets/sheet5.xml":  # checks
                rows = "".join(
                    f'<row r="{row}"><c r="A{row}" t="inlineStr"><is><t>{number}</t></is></c>'
                    f'<c r="B{row}" s="{day}"><v>{45850 + row}</v></c>'
                    f'<c r="C{row}"><v>{queens}</v></c>'
                    f'<c r="D{row}" t="inlineStr"><is><t>{workers}</t></is></c></row>'
                    for row, number, queens, workers in (
                        (2, "K1-01", 1, "0"),
                        (3, "K1-02", 3, "0"),
                        (4, "K1-02", 3, "10+"),
                    )
                )
                part = part.replace(b"</sheetData>", rows.encode() + b"</sheetData>")
            new.writestr(name, part)
    return out.getvalue()
