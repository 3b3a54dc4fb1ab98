"""What commands write begins no formula, whatever a keeper typed, and loses nothing of it."""

from __future__ import annotations

import csv
import io
from pathlib import Path

import early
import pytest

from cohort.cli import main
from cohort.sheets import written
from cohort.sheets.folder import read_folder
from cohort.study import read_study

STARTS = ("=", "+", "-", "@", "\t", "\r", "\n")
RUNS = ("=cmd|' /C calc'!A0", "@SUM(1)", "+1+1", "-2+3")


def run(*words: str) -> int:
    with pytest.raises(SystemExit) as end:
        main(list(words))
    return int(end.value.code or 0)


def cells(path: Path) -> list[str]:
    rows = csv.reader(io.StringIO(path.read_text("utf-8-sig")))
    return [cell for row in rows for cell in row]


def is_number(cell: str) -> bool:
    try:
        float(cell)
    except ValueError:
        return False
    return True


@pytest.fixture
def hostile(tmp_path) -> Path:
    """Ids, kinds, keepers, shelves and blocks that a spreadsheet would run."""
    folder = tmp_path / "study"
    folder.mkdir()
    (folder / "study.toml").write_text(early.SETTINGS + "show_keepers = true\n", "utf-8")
    head = ["founding", "kind", "started", "queens", "keeper", "species", "shelf", "block"]
    rows = [[f"{text}{i}", text, early.day(0), 1 + i % 3, text, text, text, text]
            for i, text in enumerate(RUNS)]  # fmt: skip
    for name, body in (
        ("foundings", [head, *rows]),
        ("kinds", [["kind", "genus"], *([text, ""] for text in RUNS)]),
        ("checks", [["founding", "date", "queens_alive", "workers", "note"],
                    *([row[0], early.day(d), row[3], 4 * (d > 30), RUNS[0]]
                      for row in rows for d in (9, 40))]),
    ):  # fmt: skip
        with (folder / f"{name}.csv").open("w", encoding="utf-8", newline="") as file:
            csv.writer(file).writerows(body)
    return folder


def test_the_tables_of_a_comparison(hostile, tmp_path):
    out = tmp_path / "out"
    run("compare", str(hostile), "--out", str(out), "--quiet")
    for path in out.glob("*.csv"):
        bad = [c for c in cells(path) if c.startswith(STARTS) and not is_number(c)]
        assert not bad, path.name
    told = written.read(out / "foundings.csv", "foundings")
    study = read_study(hostile, today=early.TODAY).foundings
    for name in ("founding", "keeper", "species", "shelf", "block"):
        assert sorted(told[name]) == sorted(study[name]), name
    assert set(RUNS) <= set(told["genus"])
    assert set(RUNS) <= set(written.read(out / "curves.csv", "curves")["genus"])


def test_what_is_logged(hostile):
    note = "=HYPERLINK(1)"
    for text in RUNS:
        before = (hostile / "checks.csv").read_bytes()
        code = run("log", "--alive", "1", "--workers", "9", "--note", note, "--date", early.day(50),
                   "--", str(hostile), f"{text}{RUNS.index(text)}")  # fmt: skip
        assert code == 0
        after = (hostile / "checks.csv").read_bytes()
        assert after.startswith(before)  # not a sign of what stood there was altered
        added = next(csv.reader(io.StringIO(after[len(before) :].decode("utf-8"))))
        assert not [c for c in added if c.startswith(STARTS) and not is_number(c)]
    sheet = next(t for t in read_folder(hostile).tables if t.sheet == "checks").frame
    assert sheet["founding"].tolist()[-len(RUNS) :] == [f"{t}{i}" for i, t in enumerate(RUNS)]
    assert sheet["note"].tolist()[-len(RUNS) :] == [note] * len(RUNS)


def test_a_simulated_study(tmp_path, capsys):
    assert run("simulate", str(tmp_path / "made"), "--genera", "=cmd,Lasius") == 2
    assert not (tmp_path / "made").exists()
    truth = tmp_path / "truth.json"
    assert run("simulate", str(tmp_path / "one"), "--foundings", "6", "--genera", "2") == 0
    text = (tmp_path / "one" / "truth.json").read_text("utf-8")
    truth.write_text(text.replace('"Lasius"', '"=Lasius"'), "utf-8")
    capsys.readouterr()
    assert run("simulate", str(tmp_path / "two"), "--truth", str(truth)) == 1
    assert "a name begins with a letter" in capsys.readouterr().err


def test_tables_inside_the_page():
    from cohort.newsletter.csv_link import csv_text
    from cohort.newsletter.tables import Table

    table = Table(("kind", *RUNS), (("\u2013", *RUNS), ("a;=1", "-1.5", "-1,234", "3", "x")))
    rows = list(csv.reader(io.StringIO(csv_text(table).lstrip("\ufeff"))))
    assert not [c for row in rows for c in row if c.startswith(STARTS) and c[1:2].isalpha()]
    assert rows[2] == ["a;'=1", "-1.5", "-1,234", "3", "x"]
    assert rows[0][1:] == [f"'{text}" for text in RUNS]
