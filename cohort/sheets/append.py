"""Rows added to a keeper's CSV file so that nothing is ever lost or torn.

What comes in: a study folder, the name of a CSV file in it and new rows. What goes out: the file
with the rows at its end. What stood in it stays byte for byte; the version before is kept in the
folder ``earlier`` (the last 10), which readers of a study do not enter. One writer at a time (a
lock file), a temporary file, fsync, then one atomic replace (`cohort.sheets.put`). Of a sheet that
is a link the file behind it is written. It never writes to a workbook.
"""

from __future__ import annotations

import calendar
import contextlib
import csv
import glob
import io
import os
import re
import time
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

import filelock

from cohort.base.errors import StudyError
from cohort.sheets.files import MAX_SHEET, bytes_of, inner
from cohort.sheets.guard import guard
from cohort.sheets.put import UNFINISHED, finish, original, put_all
from cohort.sheets.raw import column_name
from cohort.sheets.sentences import tell
from cohort.sheets.text import decode

EARLIER = "earlier"
"""Folder inside a study that holds earlier versions and lock files; no reader enters it."""
KEPT = 10
"""Earlier versions kept of each file."""
PATIENCE = 20.0
"""Seconds to wait for another writer."""
LOCK = "writing.lock"
_SECOND = "%Y%m%d-%H%M%S"
_STAMPED = re.compile(r"(\d{8}-\d{6})-(\d{9})")
_SAFE = re.compile(r"[^A-Za-z0-9._-]+")

Row = Mapping[str, str]


@dataclass(frozen=True)
class Layout:
    """How a CSV file is written: encoding, sign between cells, line end, headings in order."""

    encoding: str
    separator: str
    line_end: str
    headings: tuple[str, ...]

    def holds(self, columns: Sequence[str]) -> bool:
        """Whether the file has a column for each of these."""
        return set(columns) <= {column_name(heading) for heading in self.headings}


def safe_name(text: str) -> str:
    """File-name part made of a sign or id: no dots at the ends, no separators, never empty.

    ``../../etc/x`` -> ``etc-x``: an id typed in a sheet cannot leave the folder it is written to.
    """
    return _SAFE.sub("-", text.replace("..", "-")).strip("-._")[:60] or "x"


def layout_of(data: bytes, name: str) -> Layout:
    """Layout of a CSV file from its bytes.

    Raises
    ------
    StudyError
        If headings cannot be told, or a quotation mark is open at the end.
    """
    text, _ = decode(data, name)
    encoding = _encoding(data)
    line_end = "\r\n" if "\r\n" in text else "\n"
    if text.count('"') % 2:
        raise StudyError(tell("put_open_quote", name=name))
    lines = [line for line in text.splitlines() if line.strip(' ,;\t"')]
    lines = [line for line in lines[:3] if not re.fullmatch(r'"?sep=.?"?', line.strip())]
    if not lines:
        raise StudyError(tell("put_no_headings", name=name))
    bare = re.sub(r'"[^"]*"', "", lines[0])
    counts = [bare.count(sign) for sign in ",;\t"]
    separator = ",;\t"[counts.index(max(counts))]
    headings = next(csv.reader([lines[0]], delimiter=separator))
    return Layout(encoding, separator, line_end, tuple(h.strip() for h in headings))


def _encoding(data: bytes) -> str:
    if data[:2] in (b"\xff\xfe", b"\xfe\xff"):
        return "utf-16-le" if data[:2] == b"\xff\xfe" else "utf-16-be"
    try:
        data.decode("utf-8")
    except UnicodeDecodeError:
        return "cp1252"
    return "utf-8"


def rows_as_bytes(layout: Layout, rows: Sequence[Row], name: str) -> bytes:
    """Rows as they are written into a file of this layout.

    Values that a spreadsheet could run are guarded; a line break in a cell becomes a space.

    Raises
    ------
    StudyError
        If a sign cannot be written in the encoding of the file.
    """
    out = io.StringIO()
    writer = csv.writer(out, delimiter=layout.separator, lineterminator=layout.line_end)
    for row in rows:
        cells = [guard(row.get(column_name(heading), "")) for heading in layout.headings]
        writer.writerow([" ".join(cell.split("\n")).replace("\r", " ") for cell in cells])
    try:
        return out.getvalue().encode(layout.encoding)
    except UnicodeEncodeError as fault:
        sign = fault.object[fault.start]
        raise StudyError(tell("put_no_sign", name=name, sign=sign)) from fault


@contextlib.contextmanager
def locked(folder: Path, patience: float = PATIENCE) -> Iterator[None]:
    """Hold the one lock of a study folder.

    Raises
    ------
    StudyError
        If another writer keeps it longer than `patience` seconds, or the folder cannot be
        written to.
    """
    try:
        lock = filelock.FileLock(inner(folder, EARLIER, make=True) / LOCK, timeout=patience)
        lock.acquire()
    except filelock.Timeout as fault:
        raise StudyError(tell("put_busy", folder=str(folder), seconds=f"{patience:g}")) from fault
    except OSError as fault:
        why = fault.strerror or str(fault)
        raise StudyError(tell("put_no_writing", folder=str(folder), why=why)) from fault
    try:
        finish(folder, folder / EARLIER / UNFINISHED)
        yield
    finally:
        lock.release()


@contextlib.contextmanager
def _shared(folder: Path, paths: Iterable[Path]) -> Iterator[None]:
    """Hold a lock beside each file that a sheet is a link to: other studies may write it too."""
    homes = {real.parent for path in paths if (real := original(path)) != path}
    homes -= {folder.resolve()}  # its lock is held
    with contextlib.ExitStack() as held:
        for home in sorted(homes):
            inside = home / EARLIER  # there where that folder is a study of its own
            lock = inside / LOCK if inside.is_dir() else home / f".{LOCK}"
            try:
                held.enter_context(filelock.FileLock(lock, timeout=PATIENCE))
            except filelock.Timeout as fault:
                raise StudyError(
                    tell("put_busy_there", folder=str(home), seconds=f"{PATIENCE:g}")
                ) from fault
        yield


def open_elsewhere(path: Path) -> bool:
    """Whether a spreadsheet program says that it has the file open (its sign lies beside it)."""
    return any(
        (file.parent / sign).exists()
        for file in {path, original(path)}
        for sign in (f".~lock.{file.name}#", f"~${file.name}")
    )


def appended(path: Path, columns: Sequence[str], rows: Sequence[Row]) -> bytes:
    """Bytes of the file with the rows at its end; a new file gets `columns` as headings.

    Raises
    ------
    StudyError
        If the file lacks a column that a row fills, or its layout cannot be told.
    """
    real = original(path)
    before = bytes_of(real, MAX_SHEET) if real.exists() else b""
    if not before.strip():
        layout = Layout("utf-8", ",", "\n", tuple(columns))
        head = ",".join(columns) + "\n"
        return head.encode() + rows_as_bytes(layout, rows, path.name)
    layout = layout_of(before, path.name)
    used = {name for row in rows for name, value in row.items() if value}
    if not layout.holds(sorted(used)):
        missing = sorted(used - {column_name(h) for h in layout.headings})
        raise StudyError(tell("put_no_column", name=path.name, columns=", ".join(missing)))
    end = layout.line_end.encode(layout.encoding)
    joint = b"" if before.endswith(end) else end
    return before + joint + rows_as_bytes(layout, rows, path.name)


def start_of(path: Path, columns: Sequence[str]) -> int:
    """Bytes of a file before the rows that `appended` would add: all of it, else its headings."""
    real = original(path)
    before = bytes_of(real, MAX_SHEET) if real.exists() else b""
    return len(before) if before.strip() else len(appended(path, columns, []))


def append_rows(
    path: Path, columns: Sequence[str], rows: Sequence[Row], *, patience: float = PATIENCE
) -> None:
    """Add rows to a CSV file of a study, or start the file.

    Parameters
    ----------
    path : Path
        The file, directly inside the study folder.
    columns : sequence of str
        Headings of a new file.
    rows : sequence of mapping
        Column name -> text; a column that is not named stays blank.
    patience : float
        Seconds to wait for another writer.

    Raises
    ------
    StudyError
        If the file is open in a spreadsheet, locked, or cannot take the rows. Nothing is written.
    """
    with locked(path.parent, patience):
        put_rows(path.parent, {path: (columns, rows)})


def put_rows(
    folder: Path,
    jobs: Mapping[Path, tuple[Sequence[str], Sequence[Row]]],
    new: Mapping[Path, bytes] | None = None,
) -> None:
    """Add rows to sheets of a study, all of them or none; the caller holds the lock.

    Parameters
    ----------
    folder : Path
        The study.
    jobs : mapping
        File directly inside it -> headings of a new file, rows to add.
    new : mapping, optional
        Whole files that come into being with the rows, such as a drawn list.

    Raises
    ------
    StudyError
        If a file is open in a spreadsheet, or cannot take the rows. Nothing is written.
    """
    _closed(jobs)
    with _written(folder, jobs):
        files = {path: appended(path, columns, rows) for path, (columns, rows) in jobs.items()}
        _put(folder, files, new or {})


def put_files(
    folder: Path,
    files: Mapping[Path, bytes],
    new: Mapping[Path, bytes],
    gone: Sequence[Path] = (),
) -> None:
    """Put sheets of a study in place whole, all of them or none; the caller holds the lock.

    Parameters
    ----------
    folder : Path
        The study.
    files : mapping
        Sheet directly inside it -> its new bytes; the sheet as it was is kept.
    new : mapping
        Other files that go with them.
    gone : sequence of Path
        Files in a folder of the study that are taken away with them, such as a drawn list; kept
        like the sheets.

    Raises
    ------
    StudyError
        If a file is open in a spreadsheet, or cannot be written. Nothing is written.
    """
    _closed(files)
    with _written(folder, [*files, *gone]):
        _put(folder, files, new, gone)


def _closed(paths: Iterable[Path]) -> None:
    for path in paths:
        if open_elsewhere(path):
            raise StudyError(tell("put_open_there", name=path.name))


@contextlib.contextmanager
def _written(folder: Path, paths: Iterable[Path]) -> Iterator[None]:
    """The files behind links locked; a file that cannot be written is told in plain words."""
    names = [path.name for path in paths]
    try:
        with _shared(folder, paths):
            yield
    except OSError as fault:
        why, told = fault.strerror or str(fault), ", ".join(names)
        raise StudyError(
            tell("put_not_all" if names[1:] else "put_not", names=told, why=why)
        ) from fault


def _put(
    folder: Path,
    files: Mapping[Path, bytes],
    new: Mapping[Path, bytes],
    gone: Sequence[Path] = (),
) -> None:
    for path in files:
        if path.exists():
            _keep(path, path.read_bytes())
    for path in gone:
        _keep(folder / f"{path.parent.name}-{path.name}", path.read_bytes())
    put_all(folder, {**new, **files}, folder / EARLIER / UNFINISHED, gone)


def _keep(path: Path, data: bytes) -> None:
    """Put a file as it is into the folder of earlier versions and drop the oldest ones.

    Names sort by the order of writing even where the clock was set back: the version just kept
    must never pass for the oldest.
    """
    folder = path.parent / EARLIER
    stamp = _stamp(max([time.time_ns(), *(_moment(old) + 1 for old in versions(path))]))
    target = folder / f"{path.stem}.{stamp}{path.suffix}"
    temporary = folder / f".{path.name}.{stamp}.tmp"
    try:
        with temporary.open("wb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        os.replace(temporary, target)
    except BaseException:
        temporary.unlink(missing_ok=True)
        raise
    for left in folder.glob(f".{glob.escape(path.name)}.*.tmp"):
        left.unlink(missing_ok=True)
    for old in versions(path)[:-KEPT]:
        old.unlink(missing_ok=True)


def _stamp(moment: int) -> str:
    """Nanoseconds since 1970 as the part of a name that sorts by time (UTC)."""
    second, rest = divmod(moment, 10**9)
    return f"{time.strftime(_SECOND, time.gmtime(second))}-{rest:09d}"


def _moment(old: Path) -> int:
    """Nanoseconds since 1970 from the name of a version; 0 where no clock ever said so."""
    second, rest = _STAMPED.findall(old.name)[-1]
    try:
        return calendar.timegm(time.strptime(second, _SECOND)) * 10**9 + int(rest)
    except ValueError:
        return 0


def versions(path: Path) -> list[Path]:
    """Earlier versions kept of a file, the oldest first."""
    stamp = "-".join("[0-9]" * digits for digits in (8, 6, 9))
    pattern = f"{glob.escape(path.stem)}.{stamp}{glob.escape(path.suffix)}"
    return sorted((path.parent / EARLIER).glob(pattern))
