"""Files that are not what they seem: one plain message each, no hang, no memory to speak of.

Limits of a cell are those that Microsoft gives for Excel ("Excel specifications and limits":
1,048,576 rows, 16,384 columns, 32,767 characters in a cell); a workbook is UTF-8 or UTF-16 and
holds no definitions of its own (ECMA-376 part 2, section on XML usage). Both from memory.
"""

from __future__ import annotations

import datetime as dt
import os
import random
import resource
import signal
import sys
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from hostile_books import READ, REFUSED, SHEET, packed, parts_of, plain
from made_books import book
from test_damaged import GOOD, damaged, inside

from cohort.audit import audit
from cohort.audit.show import lines
from cohort.base.errors import CohortError, Finding, StudyError
from cohort.desk.bring.run import look
from cohort.desk.log import log_look, log_notes
from cohort.sheets.blank import blank_workbook
from cohort.sheets.files import bytes_of
from cohort.sheets.folder import read_folder
from cohort.sheets.lists import read_lists, write_list
from cohort.sheets.ready import ready_numbers
from cohort.sheets.setting import read_settings
from cohort.sheets.workbook import read_workbook

TODAY = dt.date(2026, 7, 15)
PATIENCE = 300  # seconds on the wall, on which other things run too
ROOM = 3 << 30  # bytes that a test may ask for beyond what is there already
LINUX = sys.platform == "linux"


def too_long(*_: object) -> None:
    raise TimeoutError(f"no end after {PATIENCE} s")


@pytest.fixture(autouse=True)
def little_room() -> Iterator[None]:
    """What asks for far too much memory, or waits for ever, fails."""
    if not LINUX:
        yield
        return
    before = resource.getrlimit(resource.RLIMIT_AS)
    used = int(Path("/proc/self/statm").read_text().split()[0]) * resource.getpagesize()
    resource.setrlimit(resource.RLIMIT_AS, (used + ROOM, before[1]))
    signal.signal(signal.SIGALRM, too_long)
    signal.alarm(PATIENCE)
    yield
    signal.alarm(0)
    resource.setrlimit(resource.RLIMIT_AS, before)


@pytest.mark.parametrize("case", REFUSED)
def test_a_workbook_that_cannot_be_right_is_refused_in_one_message(case: str) -> None:
    make, piece = REFUSED[case]
    tables, findings = read_workbook(make(), "K2.xlsx")
    assert tables == []
    assert [(f.level, f.rule, f.file) for f in findings] == [
        ("error", "workbook-not-read", "K2.xlsx")
    ]
    assert piece.lower() in findings[0].what.lower()
    assert findings[0].remedy


@pytest.mark.parametrize("case", READ)
def test_a_workbook_that_is_only_odd_is_read(case: str) -> None:
    tables, _ = read_workbook(READ[case](), "K2.xlsx")
    assert [len(table.rows) for table in tables] == [1]


def test_the_message_of_a_refused_workbook_is_whole_whatever_its_names() -> None:
    data = book(plain, tab="foundings. a; b")
    far = parts_of(data)
    far[SHEET] = far[SHEET].replace(b'r="A2"', b'r="A300000"')
    _, (finding,) = read_workbook(packed(far), "a: b. c.xlsx")
    assert finding.what.startswith("In tab foundings. a; b, row 300000, a cell (A) is filled;")
    assert finding.remedy.startswith("Empty the stray cell")


# --- CSV files and settings -----------------------------------------------------------------------

FOUNDINGS = b"founding,genus,started,queens\nK2-01,Lasius,2026-07-04,1\n"
HEAD = b"founding,date,queens_alive,workers\n"
ROW = b"K2-01,2026-07-05,1,0\n"


@pytest.fixture
def study(tmp_path: Path) -> Path:
    folder = tmp_path / "study"
    folder.mkdir()
    (folder / "foundings.csv").write_bytes(FOUNDINGS)
    return folder


def errors(study: Path) -> list[Finding]:
    return [f for f in audit(read_folder(study), TODAY) if f.level == "error"]


CSVS: dict[str, tuple[bytes, str]] = {
    "one line of 100 MB": (b"x" * 100_000_000, "no line of headings"),
    "5,000 headings": (HEAD.strip() + b",long_heading" * 5000 + b"\n" + ROW, "no line of headings"),
    "five million empty lines": (HEAD + b"\n" * 5_000_000 + ROW, "4,000,000 are read"),
    "one cell of 100 MB": (
        HEAD + b"K2-01,2026-07-05,1," + b"x" * 100_000_000,
        "'xxxxxxxxxxxxxxxxxxxx'",
    ),
    "an id of 10 MB": (HEAD + b"x" * 10_000_000 + ROW[5:], "10,000,000 signs"),
    "zero bytes": (HEAD + ROW.replace(b"0\n", b"\0\n"), "zero bytes"),
}


@pytest.mark.parametrize("case", CSVS)
def test_a_csv_file_that_nobody_typed_is_told_in_few_words(study: Path, case: str) -> None:
    data, piece = CSVS[case]
    (study / "checks.csv").write_bytes(data)
    found = errors(study)
    assert any(piece in f.what and f.file == "checks.csv" for f in found)
    assert sum(map(len, lines(found))) < 3000


def test_a_quote_left_open_over_many_lines_is_told_as_that(study: Path) -> None:
    (study / "checks.csv").write_bytes(HEAD + b'K2-01,2026-07-05,1,"0\n' + ROW * 10_000)
    assert ("open-quote", 2) in [(f.rule, f.row) for f in errors(study)]


def test_a_file_that_is_far_too_large_is_not_read(study: Path) -> None:
    with (study / "checks.csv").open("wb") as file:
        file.truncate(300_000_000)  # takes no room on disk
    with pytest.raises(StudyError, match=r"checks\.csv has 300 MB"):
        read_folder(study)


TOMLS: dict[str, tuple[bytes, str]] = {
    "number of 5,000 digits": (b"horizon_days = " + b"9" * 5000, "far too long"),
    "number of 4,000 digits": (b"horizon_days = " + b"9" * 4000, "far too large"),
    "hexadecimal number": (b"horizon_days = 0x" + b"f" * 5000, "far too large"),
    "name of 20,000 parts": (b".".join([b"horizon_days"] * 20_000) + b" = 1", "line 1 has"),
    "name of 3,000 parts": (b"horizon_days." + b".".join([b"a"] * 3000) + b" = 1", "in parts"),
    "20,000 names with a dot": (
        b"\n".join(b"horizon_days.k%d = 1" % n for n in range(20_000)),
        "in parts",
    ),
    "brackets": (b"leave_out = " + b"[" * 4000 + b"]" * 4000, "too deep"),
    "day beyond the calendar": (b"ends = 9999-12-31", "9999 cannot be right"),
    "huge horizon": (b"horizon_days = 999999999", "not between 1 and 1500"),
}


@pytest.mark.parametrize("case", TOMLS)
def test_settings_that_nobody_typed_are_told(study: Path, case: str) -> None:
    data, piece = TOMLS[case]
    (study / "study.toml").write_bytes(data)
    found = [f for f in errors(study) if f.file == "study.toml"]
    assert any(piece in f.what for f in found), found
    assert sum(map(len, lines(found))) < 3000


def test_parts_under_a_name_that_is_no_setting_stay_a_warning() -> None:
    table, notices = read_settings(b"[mine]\na = 1\n", "study.toml")
    assert (table.frame["setting"].tolist(), notices) == (["mine"], [])
    assert table.rows.tolist() == [1]


# --- what only looks like a file ------------------------------------------------------------------

ODD: dict[str, tuple[Callable[[Path], object], str]] = {
    "folder": (lambda path: path.mkdir(), "a folder"),
    "pipe": (lambda path: os.mkfifo(path), "no plain file"),
    "link to a device": (lambda path: path.symlink_to("/dev/zero"), "no plain file"),
    "link to nothing": (lambda path: path.symlink_to("gone.csv"), "a link to a file that is not"),
    "link to itself": (lambda path: path.symlink_to(path), "a link to a file that is not"),
}


@pytest.mark.skipif(os.name != "posix", reason="no pipes and devices there")
@pytest.mark.parametrize("name", ["checks.csv", "K2.xlsx", "study.toml", "checks-K2.txt"])
@pytest.mark.parametrize("case", ODD)
def test_what_has_the_name_of_a_sheet_and_is_none_is_an_error(
    study: Path, case: str, name: str
) -> None:
    make, piece = ODD[case]
    make(study / name)
    (finding,) = [f for f in errors(study) if f.rule == "not-a-file"]
    assert finding.file == name
    assert piece in finding.what


@pytest.mark.skipif(os.name != "posix", reason="no pipes there")
def test_a_pipe_is_waited_for_nowhere(study: Path, tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "notes.txt")
    os.mkfifo(tmp_path / "mine.csv")
    (study / "lists").mkdir()
    os.mkfifo(study / "lists" / "L1.csv")
    for ask in (
        lambda: log_notes(study, tmp_path / "notes.txt"),
        lambda: look(tmp_path / "mine.csv", study),
        lambda: read_lists(study),
    ):
        with pytest.raises(StudyError, match="no plain file"):
            ask()


@pytest.mark.skipif(os.name != "posix", reason="no pipes there")
def test_a_sheet_that_is_a_pipe_takes_no_row(study: Path) -> None:
    os.mkfifo(study / "checks-K2.csv")
    with pytest.raises(StudyError, match=r"checks-K2\.csv is no plain file"):
        log_look(study, "K2-01", {"queens_alive": "1", "workers": "0"}, date="2026-07-05")


@pytest.mark.skipif(not hasattr(os, "geteuid") or os.geteuid() == 0, reason="root may read all")
def test_a_file_that_may_not_be_read_is_named(study: Path) -> None:
    (study / "checks.csv").write_bytes(HEAD + ROW)
    (study / "checks.csv").chmod(0)
    with pytest.raises(StudyError, match=r"checks\.csv cannot be opened"):
        read_folder(study)


def test_a_file_that_cannot_be_opened_is_named(
    study: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def closed(*_: object) -> int:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(os, "open", closed)
    with pytest.raises(StudyError, match=r"foundings\.csv cannot be opened \(Permission denied\)"):
        bytes_of(study / "foundings.csv", 1000)


@pytest.mark.skipif(not LINUX, reason="other systems take no such names")
def test_a_file_name_that_is_not_utf8_is_read_and_told(study: Path) -> None:
    name = os.fsdecode("checks-Kä.csv".encode("latin-1"))
    (study / name).write_bytes(HEAD + ROW.replace(b"1,0", b"x,0"))
    (study / "checks-\x1b[31m.csv").write_bytes(HEAD + ROW.replace(b"1,0", b"y,0"))
    sheets = read_folder(study)
    assert [s.name for s in sheets.sources] == [
        "checks-\\x1b[31m.csv",
        "checks-K\\xe4.csv",
        "foundings.csv",
    ]
    told = "\n".join(lines(audit(sheets, TODAY)))
    assert "checks-K\\xe4.csv, row 2" in told.encode("utf-8").decode("utf-8")
    assert "\x1b" not in told


@pytest.mark.skipif(not LINUX, reason="other systems take no such names")
def test_files_of_odd_names_are_told_when_not_read_and_keep_their_numbers(study: Path) -> None:
    name = os.fsdecode("Kä".encode("latin-1"))
    (study / f"{name}.xlsx").write_bytes(blank_workbook("K3", numbers=("K3-01", "K3-02")))
    (study / f"old-{name}.csv").write_bytes(HEAD + ROW)
    sheets = read_folder(study)
    (notice,) = [n for n in sheets.notices if n.rule == "file-not-read"]
    assert notice.file == "old-K\\xe4.csv"
    assert f"{notice}".encode()
    assert "checks-K2-old-K-xe4.csv" in notice.remedy
    assert ready_numbers(study, sheets) == ("K3-01", "K3-02")


def test_signs_that_steer_a_terminal_are_told_and_not_obeyed(study: Path) -> None:
    (study / "checks.csv").write_bytes(HEAD + b"K2-01,2026-07-05,\x1b[2J\xc2\x9b,0\n")
    told = "\n".join(lines(errors(study)))
    assert "'\\x1b[2J\\x9b' is not a whole number" in told


# --- folders of a study that lead elsewhere -------------------------------------------------------


@pytest.fixture
def elsewhere(tmp_path: Path) -> Path:
    """A folder of somebody else, with what a study might keep."""
    folder = tmp_path / "elsewhere"
    folder.mkdir()
    (folder / "checks.20200101-000000-000000000.csv").write_text("old")
    return folder


def kept(folder: Path) -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in folder.iterdir()}


@pytest.mark.skipif(os.name != "posix", reason="links need leave there")
@pytest.mark.parametrize("name", ["earlier", "lists", "brought"])
def test_an_inner_folder_that_leads_out_of_the_study_is_not_followed(
    study: Path, elsewhere: Path, tmp_path: Path, name: str
) -> None:
    (study / name).symlink_to(elsewhere)
    (study / "checks.csv").write_bytes(HEAD)
    mine = tmp_path / "mine.csv"
    mine.write_bytes(FOUNDINGS)
    before = kept(elsewhere)
    ask = {
        "earlier": lambda: log_look(
            study, "K2-01", {"queens_alive": "1", "workers": "0"}, date="2026-07-05"
        ),
        "lists": lambda: write_list(study, "L1", []),
        "brought": lambda: look(mine, study, keeper="K2"),
    }[name]
    with pytest.raises(StudyError, match="leads out of the study"):
        ask()
    assert kept(elsewhere) == before
    assert (study / "checks.csv").read_bytes() == HEAD


@pytest.mark.skipif(os.name != "posix", reason="links need leave there")
def test_an_inner_folder_that_is_a_link_inside_the_study_is_used(study: Path) -> None:
    (study / "old").mkdir()
    (study / "earlier").symlink_to("old")
    (study / "checks.csv").write_bytes(HEAD)
    log_look(study, "K2-01", {"queens_alive": "1", "workers": "0"}, date="2026-07-05")
    assert len(list((study / "old").glob("checks.*.csv"))) == 1


# --- damage by lot --------------------------------------------------------------------------------


@pytest.mark.parametrize("times", [60, pytest.param(500, marks=pytest.mark.slow)])
def test_damages_end_in_findings_or_one_message(tmp_path: Path, times: int) -> None:
    """Seeded, unlike the search of test_damaged, so that a count of it means something."""
    lot = random.Random(20261129)
    hows = ["flip", "cut", "double", "write", "drop", "swap"]
    names = sorted(GOOD)
    told = 0
    for _ in range(times):
        name = lot.choice(names)
        damage = [
            (lot.choice(hows), lot.random(), lot.randbytes(lot.randint(1, 24)))
            for _ in range(lot.randint(1, 4))
        ]
        if name.endswith((".xlsx", ".ods")) and lot.random() < 0.7:
            data = inside(GOOD[name], damage, lot.random())
        else:
            data = damaged(GOOD[name], damage)
        folder = tmp_path / "study"
        (folder / "lists").mkdir(parents=True, exist_ok=True)
        for other in (name, "foundings-K2.csv", "checks-K2.csv"):
            (folder / other).write_bytes(data if other == name else GOOD[other])
        try:
            read_lists(folder)
            told += len("\n".join(lines(audit(read_folder(folder), TODAY)))) > 0
        except CohortError as fault:
            assert Path(name).name in str(fault)  # noqa: PT017 - a message or findings, both are right
            told += 1
        (folder / name).unlink()
    assert told > 0.7 * times
