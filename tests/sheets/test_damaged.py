"""Damaged files: no traceback, no hang, and every message names the file (and the row it knows).

The bytes of good files are flipped, cut, doubled and overwritten, outside and inside the packed
parts of a workbook. Whatever comes of it, the study is read and audited or one plain error is
raised.
"""

from __future__ import annotations

import datetime as dt
import io
import time
import zipfile
from collections.abc import Sequence
from pathlib import Path

import pytest
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st
from made_books import HEAD, book, cells, ods

from cohort.audit import audit
from cohort.base.errors import CohortError, Finding
from cohort.sheets.blank import blank_workbook
from cohort.sheets.delimited import read_delimited
from cohort.sheets.folder import read_folder
from cohort.sheets.lists import read_lists
from cohort.sheets.notes import read_notes
from cohort.sheets.setting import read_settings
from cohort.sheets.workbook import read_workbook

TODAY = dt.date(2026, 7, 15)
PATIENCE = 5.0  # seconds of computing; the clock on the wall also counts what else runs

# Faults of a whole file or tab, which have no row.
WHOLE = {
    "workbook-not-read",
    "empty-sheet",
    "damaged-file",
    "column-missing",
    "no-headings",
    "encoding",
    "file-not-read",
    "settings-unreadable",
}


def _rows(made: object, tab: object) -> None:
    tab.write_row(0, 0, HEAD)  # type: ignore[attr-defined] - xlsxwriter has no types
    for n in range(1, 9):
        tab.write_row(n, 0, (f"K1-{n:02d}", "Lasius", "2026-07-04", n % 3 + 1, 'Ä note, "x"'))  # type: ignore[attr-defined] - as above


_CHECKS = cells("founding", "date", "queens_alive", "workers") + b"".join(
    cells(f"K1-{n:02d}", "2026-07-08", "1", "0") for n in range(1, 9)
)
GOOD: dict[str, bytes] = {
    "foundings-K2.csv": b"founding,genus,started,queens,keeper,note\n"
    + b"".join(
        b'K2-%02d,Lasius,2026-07-04,%d,K2,"a, \xc3\xa4 ""b"""\n' % (n, n % 3 + 1)
        for n in range(1, 12)
    ),
    "checks-K2.csv": b"founding;date;queens_alive;workers\r\n"
    + b"".join(b"K2-%02d;08.07.2026;1;0\r\n" % n for n in range(1, 12)),
    "checks-K2.txt": b"2026-07-12\nK2-01 1 0 calm\nK2-02 1 12+ fight in the corner\nrest same\n",
    "study.toml": b'title = "x"\nhorizon_days = 180\ndate_order = "dmy"\nleave_out = ["mites"]\n',
    "K1.xlsx": book(_rows),
    "K1b.ods": ods(_CHECKS, b"checks"),
    "K3.xlsx": blank_workbook("K3", numbers=5),
    "lists/L1.csv": b"list,seed,drawn,sizes,shares,block_of,block,order,kind,keeper,flight,"
    b"founding,arm,queens,which,assigned\nL1,3,2026-07-04,1 3,1 1,4,L1-1,1,Lasius,"
    b"K2,,K2-01,multi,2,1 2,random\n",
}

DAMAGE = st.lists(
    st.tuples(
        st.sampled_from(["flip", "cut", "double", "write", "drop", "swap"]),
        st.floats(0, 1, exclude_max=True),
        st.binary(min_size=1, max_size=24),
    ),
    min_size=1,
    max_size=6,
)


def damaged(data: bytes, damage: list[tuple[str, float, bytes]]) -> bytes:
    for how, where, extra in damage:
        at = int(where * max(len(data), 1))
        size = len(extra)
        if how == "flip":
            data = data[:at] + bytes(b ^ extra[0] for b in data[at : at + 1]) + data[at + 1 :]
        elif how == "cut":
            data = data[:at]
        elif how == "double":
            data = data[: at + size * 40] + data[at:]
        elif how == "write":
            data = data[:at] + extra + data[at + size :]
        elif how == "drop":
            data = data[:at] + data[at + size * 10 :]
        else:
            data = data[at:] + data[:at]
    return data


def inside(data: bytes, damage: list[tuple[str, float, bytes]], pick: float) -> bytes:
    """Damage one part of a packed file and pack it again, so that the packing is sound."""
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(data)) as old:
        names = old.namelist()
        hurt = names[int(pick * len(names))]
        with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as new:
            for name in names:
                part = old.read(name)
                new.writestr(name, damaged(part, damage) if name == hurt else part)
    return out.getvalue()


def hold(folder: Path, name: str, data: bytes, whole: bool = True) -> None:
    """Read the study with this file in it, alone or (`whole`) audited with all the others."""
    start = time.process_time()
    findings: Sequence[Finding] = ()
    told = name
    try:
        findings = read_and_audit(folder, name, data) if whole else read_alone(name, data)
    except CohortError as fault:
        told = str(fault)
    assert Path(name).name in told
    for finding in findings:
        if finding.level == "error":
            assert finding.file, finding
            assert finding.row > 0 or finding.rule in WHOLE, finding
            assert finding.what, finding
            assert finding.remedy, finding
    assert time.process_time() - start < PATIENCE


def read_and_audit(folder: Path, name: str, data: bytes) -> Sequence[Finding]:
    for other, good in GOOD.items():
        path = folder / other
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(data if other == name else good)
    read_lists(folder)
    return audit(read_folder(folder), TODAY)


def read_alone(name: str, data: bytes) -> Sequence[Finding]:
    if name.endswith((".xlsx", ".ods")):
        return read_workbook(data, name)[1]
    if name.endswith(".csv"):
        return read_delimited(data, name, "checks")[1]
    return read_notes(data, name)[1] if name.endswith(".txt") else read_settings(data, name)[1]


def one_case(
    folder: Path, name: str, damage: list[tuple[str, float, bytes]], pick: float, whole: bool
) -> None:
    data = GOOD[name]
    if name.endswith((".xlsx", ".ods")) and pick < 0.7:
        hold(folder, name, inside(data, damage, pick / 0.7), whole)
    else:
        hold(folder, name, damaged(data, damage), whole)


NAMES = st.sampled_from(sorted(GOOD))
ANY = settings(
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
    phases=[Phase.explicit, Phase.reuse, Phase.generate],  # a failing case is small enough
)


@pytest.fixture
def place(tmp_path: Path) -> Path:
    return tmp_path


@settings(ANY, max_examples=150)
@given(name=NAMES, damage=DAMAGE, pick=st.floats(0, 1, exclude_max=True))
def test_damaged_files_end_in_plain_words(
    place: Path, name: str, damage: list[tuple[str, float, bytes]], pick: float
) -> None:
    one_case(place, name, damage, pick, whole=pick * 60 % 1 < 0.15 or name == "lists/L1.csv")


@pytest.mark.slow
@settings(ANY, max_examples=2500, derandomize=False)
@given(name=NAMES, damage=DAMAGE, pick=st.floats(0, 1, exclude_max=True))
def test_many_damaged_files_end_in_plain_words(
    place: Path, name: str, damage: list[tuple[str, float, bytes]], pick: float
) -> None:
    one_case(place, name, damage, pick, whole=True)


def test_the_good_files_have_no_error_and_the_check_can_fail(place: Path) -> None:
    hold(place, "", b"")
    errors = [f for f in audit(read_folder(place), TODAY) if f.level == "error"]
    assert [f.rule for f in errors] == [], errors
    (place / "checks-K2.csv").write_bytes(GOOD["checks-K2.csv"].replace(b"K2-03", b"K2-33"))
    errors = [f for f in audit(read_folder(place), TODAY) if f.level == "error"]
    assert [(f.rule, f.file, f.row) for f in errors] == [("id-unknown", "checks-K2.csv", 4)]
