"""Rows added to a keeper's file: nothing lost, nothing torn, nothing altered."""

from __future__ import annotations

import csv
import io
import itertools
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from cohort.base.errors import StudyError
from cohort.sheets import append
from cohort.sheets.append import EARLIER, KEPT, append_rows, safe_name, versions
from cohort.sheets.delimited import read_delimited
from cohort.sheets.guard import guard, unguard

COLUMNS = ("founding", "date", "queens_alive", "workers", "note")
ROW = {"founding": "K2-01", "date": "2026-07-08", "queens_alive": "1", "note": "calm"}


def written(path: Path) -> list[list[str]]:
    table, notices = read_delimited(path.read_bytes(), path.name, "checks")
    assert [n for n in notices if n.level == "error"] == []
    return [list(map(str, row)) for row in table.frame.itertuples(index=False)]


def test_a_new_file_gets_headings_and_the_row(tmp_path: Path) -> None:
    path = tmp_path / "checks-K2.csv"
    append_rows(path, COLUMNS, [ROW])
    assert path.read_text() == "founding,date,queens_alive,workers,note\nK2-01,2026-07-08,1,,calm\n"
    assert versions(path) == []


@pytest.mark.parametrize(
    "before",
    [
        b"note;founding;date;queens_alive;mine\r\nx;K2-01;2026-07-05;1;7\r\n",
        b"\xef\xbb\xbffounding,date,queens_alive,note\nK2-01,2026-07-05,1,\xc3\xa4",
        b"founding\tdate\tqueens_alive\tnote\nK2-01\t2026-07-05\t1\t\xe4\n",
        "founding,date,queens_alive,note\nK2-01,2026-07-05,1,ä\n".encode("utf-16"),
        b'sep=;\nfounding;date;queens_alive;note\nK2-01;2026-07-05;1;"a;""b"""\n',
    ],
)
def test_what_stood_there_stays_byte_for_byte(before: bytes, tmp_path: Path) -> None:
    path = tmp_path / "checks-K2.csv"
    path.write_bytes(before)
    rows = written(path)
    append_rows(path, COLUMNS, [{**ROW, "note": 'warm, dry; "odd"'}])
    after = path.read_bytes()
    assert after.startswith(before)
    assert written(path)[:-1] == rows
    table, _ = read_delimited(after, path.name, "checks")
    last = table.frame.iloc[-1]
    assert (last["founding"], last["note"]) == ("K2-01", 'warm, dry; "odd"')
    assert [old.read_bytes() for old in versions(path)] == [before]


def grown(path: Path) -> list[bytes]:
    """A sheet to which rows are added one by one, more often than versions are kept; each state."""
    append_rows(path, COLUMNS, [ROW])
    seen = []
    for n in range(KEPT + 4):
        seen.append(path.read_bytes())
        append_rows(path, COLUMNS, [{**ROW, "note": str(n)}])
    return seen


def test_the_last_ten_versions_are_kept_where_no_reader_looks(tmp_path: Path) -> None:
    path = tmp_path / "checks-K2.csv"
    seen = grown(path)
    assert [old.read_bytes() for old in versions(path)] == seen[-KEPT:]
    assert {p.name for p in tmp_path.iterdir()} == {"checks-K2.csv", EARLIER}


@pytest.mark.parametrize("step", [1, 7, -(10**9), -3_600 * 10**9, 0])
def test_versions_stay_in_order_whatever_the_clock_does(
    step: int, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Over the turn of a second, with a clock set back, with one that stands still."""
    clock = itertools.count(1_783_468_800 * 10**9 - 5, step)
    monkeypatch.setattr(time, "time_ns", lambda: next(clock))
    path = tmp_path / "checks-K2.csv"
    seen = grown(path)
    assert [old.read_bytes() for old in versions(path)] == seen[-KEPT:]


def test_a_version_no_clock_ever_named_stops_nothing(tmp_path: Path) -> None:
    path = tmp_path / "checks-K2.csv"
    append_rows(path, COLUMNS, [ROW])
    odd = tmp_path / EARLIER / "checks-K2.99999999-999999-999999999.csv"
    odd.write_text("kept by hand")
    append_rows(path, COLUMNS, [ROW])
    assert odd.read_text() == "kept by hand"
    assert len(versions(path)) == 2


def test_a_column_the_file_lacks_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "checks-K2.csv"
    path.write_text("founding,date,queens_alive\nK2-01,2026-07-05,1\n")
    with pytest.raises(StudyError, match="no column note"):
        append_rows(path, COLUMNS, [ROW])
    append_rows(path, COLUMNS, [{**ROW, "note": ""}])
    assert len(written(path)) == 2


@pytest.mark.parametrize("sign", [".~lock.checks-K2.csv#", "~$checks-K2.csv"])
def test_a_file_open_in_a_spreadsheet_is_left_alone(sign: str, tmp_path: Path) -> None:
    path = tmp_path / "checks-K2.csv"
    append_rows(path, COLUMNS, [ROW])
    before = path.read_bytes()
    (tmp_path / sign).write_text("")
    with pytest.raises(StudyError, match="open in a spreadsheet"):
        append_rows(path, COLUMNS, [ROW])
    assert path.read_bytes() == before


def test_an_open_quotation_mark_or_a_foreign_sign_stops_it(tmp_path: Path) -> None:
    path = tmp_path / "checks-K2.csv"
    path.write_text('founding,date,queens_alive,note\nK2-01,2026-07-05,1,"open\n')
    with pytest.raises(StudyError, match="quotation mark"):
        append_rows(path, COLUMNS, [ROW])
    path.write_bytes(b"founding,date,queens_alive,note\nK2-01,2026-07-05,1,\xe4\n")
    with pytest.raises(StudyError, match="not UTF-8"):
        append_rows(path, COLUMNS, [{**ROW, "note": "蟻"}])


def test_a_second_writer_waits_and_then_says_so(tmp_path: Path) -> None:
    with append.locked(tmp_path), pytest.raises(StudyError, match="another command"):
        append_rows(tmp_path / "checks.csv", COLUMNS, [ROW], patience=0.1)


def test_names_cannot_leave_the_folder() -> None:
    for bad in ("../../etc/passwd", "..", "/", "C:\\x", "a/b", "K2\n", ".hidden", "", "con:x"):
        name = safe_name(bad)
        assert name
        assert not set(name) & set("/\\:\n")
        assert not name.startswith(".")
    assert safe_name("K2") == "K2"


# --- guarded text ------------------------------------------------------------------------------


@given(st.text(st.characters(exclude_categories=("Cs",)), max_size=30))
def test_guarded_text_comes_back_and_cannot_run(text: str) -> None:
    assert unguard(guard(text)) == text
    number = text[1:].replace(".", "").replace(",", "").isdigit()
    if not number:
        assert guard(text)[:1] not in ("=", "+", "-", "@", "\t", "\r")


def test_what_runs_is_guarded_and_numbers_are_not() -> None:
    """The signs are those of OWASP's page on CSV injection (=, +, -, @, tab, carriage return)."""
    for text in ("=1+1", "+1+1", "-1+1", "@SUM(A1)", "\t=1", "\r=1", "=cmd|' /C calc'!A0"):
        assert guard(text) == "'" + text
    for text in ("-3", "-3.5", "+2", "5+", "K2-07", "calm", ""):
        assert guard(text) == text
    assert unguard("'tis calm") == "'tis calm"


@given(
    st.lists(
        st.text(st.characters(exclude_categories=("Cs", "Cc")), max_size=12), min_size=1, max_size=5
    )
)
def test_any_note_is_written_and_read_back(notes: list[str]) -> None:
    layout = append.Layout("utf-8", ";", "\r\n", ("founding", "note"))
    data = append.rows_as_bytes(layout, [{"founding": "a", "note": n} for n in notes], "x")
    read = list(csv.reader(io.StringIO(data.decode(), newline=""), delimiter=";"))
    assert [unguard(row[1]) for row in read] == notes


# --- writers that are cut off, and two at once -------------------------------------------------

WRITER = """
import sys
from pathlib import Path
from cohort.sheets.append import append_rows
path, sign, count = Path(sys.argv[1]), sys.argv[2], int(sys.argv[3])
print("ready", flush=True)
for n in range(count):
    append_rows(path, ("founding", "note"), [{"founding": f"{sign}-{n:04d}", "note": "x" * 200}])
    print(f"{sign}-{n:04d}", flush=True)
"""


def writer(path: Path, sign: str, count: int) -> subprocess.Popen[str]:
    return subprocess.Popen(
        [sys.executable, "-c", WRITER, str(path), sign, str(count)],
        stdout=subprocess.PIPE,
        text=True,
    )


def test_two_writers_at_once_lose_nothing(tmp_path: Path) -> None:
    path = tmp_path / "checks.csv"
    both = [writer(path, sign, 30) for sign in ("A", "B")]
    for process in both:
        process.communicate(timeout=60)
        assert process.returncode == 0
    names = [row[0] for row in written(path)]
    assert sorted(names) == sorted(f"{sign}-{n:04d}" for sign in "AB" for n in range(30))


def cut_off(path: Path, rng: np.random.Generator, times: int) -> int:
    """Kill writers at random moments; every row they had reported must be there, whole."""
    told: list[str] = []
    for n in range(times):
        process = writer(path, f"W{n}", 100_000)
        assert process.stdout is not None
        assert process.stdout.readline() == "ready\n"
        time.sleep(rng.uniform(0, 0.15))
        process.kill()
        rest, _ = process.communicate(timeout=30)
        told += rest.split()
        rows = written(path) if path.exists() else []
        assert all(len(row) == 2 and row[1] == "x" * 200 for row in rows)
        names = [row[0] for row in rows]
        assert len(names) == len(set(names))
        assert set(told) <= set(names)
        assert len(set(names) - set(told)) <= n + 1  # at most the one it was about to report
    return len(told)


def test_a_writer_cut_off_at_any_moment_leaves_whole_rows(
    tmp_path: Path, rng: np.random.Generator
) -> None:
    path = tmp_path / "checks.csv"
    told = cut_off(path, rng, 12)
    assert told > 5  # they did write; how much, the load of the machine says
    append_rows(path, ("founding", "note"), [{"founding": "last", "note": "x"}])
    assert {p.name for p in tmp_path.iterdir()} == {"checks.csv", EARLIER}
    assert len(list((tmp_path / EARLIER).glob(".*.tmp"))) == 0


def test_the_loop_sees_a_writer_that_tears(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A wrong variant: writing in place leaves half a row when it is cut off."""
    path = tmp_path / "checks.csv"
    append_rows(path, ("founding", "note"), [{"founding": "a", "note": "x" * 200}])
    whole = append.appended(path, ("founding", "note"), [{"founding": "b", "note": "x" * 200}])
    path.write_bytes(whole[:-50])
    rows = written(path)
    assert not all(row[1] == "x" * 200 for row in rows)


def test_a_full_disk_leaves_the_sheet_and_no_litter(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The n-th write to the disk fails: version, temporary file, folder."""
    import os

    path = tmp_path / "checks-K2.csv"
    append_rows(path, COLUMNS, [ROW])
    before = path.read_bytes()
    real = os.fsync
    for at in (1, 2):
        left = iter(range(1, 10))

        def full(handle: int, at: int = at, left: Iterator[int] = left) -> None:
            if next(left) == at:
                raise OSError(28, "No space left on device")
            real(handle)

        with monkeypatch.context() as patch:
            patch.setattr(os, "fsync", full)
            with pytest.raises(StudyError, match="The file is as it was"):
                append_rows(path, COLUMNS, [ROW])
        assert path.read_bytes() == before
        assert list(tmp_path.rglob("*.tmp")) == []
    append_rows(path, COLUMNS, [ROW])
    assert len(written(path)) == 2
