"""Files put in place whole, alone or several as one step."""

from __future__ import annotations

import contextlib
import hashlib
import io
import json
import os
from pathlib import Path
from typing import Any

import pytest

from cohort.base.errors import StudyError
from cohort.sheets import append, put
from cohort.sheets.append import EARLIER, append_rows
from cohort.sheets.files import inner
from cohort.sheets.put import UNFINISHED, create, finish, original, put_all, replace


class Cut(BaseException):
    """The command ends here."""


@pytest.fixture
def two(tmp_path: Path) -> tuple[Path, Path, Path]:
    (tmp_path / "a.csv").write_text("old a")
    return tmp_path, tmp_path / "a.csv", tmp_path / UNFINISHED


def cut_off(monkeypatch: pytest.MonkeyPatch, at: int) -> None:
    """Let the n-th rename be the end, as a kill would: nothing is cleaned up after it."""
    real, seen = os.replace, 0

    def rename(source: object, goal: object) -> None:
        nonlocal seen
        seen += 1
        if seen == at:
            monkeypatch.setattr(Path, "unlink", lambda *_, **__: None)
            raise Cut
        real(source, goal)  # type: ignore[arg-type] - paths, as the caller gave them

    monkeypatch.setattr(put.os, "replace", rename)


@pytest.mark.parametrize(("at", "whole"), [(1, False), (2, True), (3, True), (9, True)])
def test_several_files_are_all_there_or_none(
    at: int, whole: bool, two: tuple[Path, Path, Path], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Renames in turn: the note of what is to be done, then each file."""
    folder, a, notes = two
    b = folder / "b.csv"
    with monkeypatch.context() as patch:
        cut_off(patch, at)
        try:
            put_all(folder, {a: b"new a", b: b"new b"}, notes)
        except Cut:
            assert at < 9
    finish(folder, notes)
    assert a.read_text() == ("new a" if whole else "old a")
    assert (b.read_text() if b.exists() else "") == ("new b" if whole else "")
    assert not notes.exists()


@pytest.mark.parametrize("at", [1, 2, 3])
def test_an_interruption_as_a_rename_returns_leaves_all_or_none(
    at: int, two: tuple[Path, Path, Path], monkeypatch: pytest.MonkeyPatch
) -> None:
    """The renames: the note, the first file, the second. The clean-up runs, unlike at a kill."""
    folder, a, notes = two
    b = folder / "b.csv"
    real, seen = os.replace, 0

    def rename(source: object, goal: object) -> None:
        nonlocal seen
        real(source, goal)  # type: ignore[arg-type] - paths, as the caller gave them
        seen += 1
        if seen == at:
            raise KeyboardInterrupt

    with monkeypatch.context() as patch:
        patch.setattr(put.os, "replace", rename)
        with pytest.raises(KeyboardInterrupt):
            put_all(folder, {a: b"new a", b: b"new b"}, notes)
    finish(folder, notes)
    now = {p.name: p.read_text() for p in folder.iterdir()}
    assert now == ({"a.csv": "old a"} if at == 1 else {"a.csv": "new a", "b.csv": "new b"})


def test_what_a_keeper_wrote_after_the_cut_is_never_written_over(
    two: tuple[Path, Path, Path], monkeypatch: pytest.MonkeyPatch
) -> None:
    folder, a, notes = two
    b = folder / "b.csv"
    with monkeypatch.context() as patch:
        cut_off(patch, 2)
        with pytest.raises(Cut):
            put_all(folder, {a: b"new a", b: b"new b"}, notes)
    a.write_text("mended by hand")
    finish(folder, notes)
    assert a.read_text() == "mended by hand"
    assert b.read_text() == "new b"


def test_a_failed_rename_leaves_things_as_they_were(
    two: tuple[Path, Path, Path], monkeypatch: pytest.MonkeyPatch
) -> None:
    folder, a, notes = two
    real = os.replace

    def rename(source: object, goal: object) -> None:
        if Path(str(goal)) == a:
            raise PermissionError(13, "Permission denied")
        real(source, goal)  # type: ignore[arg-type] - paths, as the caller gave them

    monkeypatch.setattr(put.os, "replace", rename)
    with pytest.raises(PermissionError):
        put_all(folder, {a: b"new a", folder / "b.csv": b"new b"}, notes)
    assert {p.name: p.read_text() for p in folder.iterdir()} == {"a.csv": "old a"}


@pytest.mark.parametrize("linked", [False, True])
def test_rows_that_can_no_longer_be_added_are_kept_and_told(
    linked: bool,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    """Cut off after the first file; the keeper then writes into the second, and a command adds."""
    a, b = tmp_path / "a.csv", tmp_path / "b.csv"
    a.write_text("n\nold a\n")
    if linked:
        (tmp_path / "shared").mkdir()
        b.symlink_to("shared/mine.csv")
    b.write_text("n\nold b\n") if not linked else (tmp_path / "shared/mine.csv").write_text("n\n")
    with append.locked(tmp_path), monkeypatch.context() as patch:
        cut_off(patch, 3)
        with pytest.raises(Cut):
            put_all(tmp_path, {a: b"new a", b: b"new b"}, tmp_path / EARLIER / UNFINISHED)
    b.write_text("n\nby hand\n")
    append_rows(b, ["n"], [{"n": "later"}])
    (kept,) = (tmp_path / EARLIER).glob("*.not-added-*.csv")
    assert kept.read_text() == "new b"
    told = capsys.readouterr().err
    assert told.count("\n") == 1
    assert f"{'mine' if linked else 'b'}.csv: rows of a command that was cut off" in told
    assert f"earlier/{kept.name}" in told
    assert (a.read_text(), b.read_text()) == ("new a", "n\nby hand\nlater\n")
    append_rows(b, ["n"], [{"n": "last"}])
    assert kept.exists()
    assert capsys.readouterr().err == ""
    assert list(tmp_path.rglob("*.tmp")) == []


@pytest.mark.parametrize("gone", ["temporary file", "file behind a link"])
def test_rows_that_are_lost_are_told(
    gone: str, two: tuple[Path, Path, Path], monkeypatch: pytest.MonkeyPatch, capsys: Any
) -> None:
    folder, a, notes = two
    b = folder / "b.csv"
    (folder / "real.csv").write_text("old b")
    b.symlink_to("real.csv")
    with monkeypatch.context() as patch:
        cut_off(patch, 3)
        with pytest.raises(Cut):
            put_all(folder, {a: b"new a", b: b"new b"}, notes)
    for path in folder.glob(".*.tmp" if gone == "temporary file" else "real.csv"):
        path.unlink()
    finish(folder, notes)
    assert ".csv: rows of a command that was cut off" in capsys.readouterr().err
    assert not notes.exists()


def test_a_file_put_in_place_and_then_edited_is_no_loss(
    two: tuple[Path, Path, Path], monkeypatch: pytest.MonkeyPatch, capsys: Any
) -> None:
    folder, a, notes = two
    with monkeypatch.context() as patch:
        cut_off(patch, 3)
        with pytest.raises(Cut):
            put_all(folder, {a: b"new a", folder / "b.csv": b"new b"}, notes)
    a.write_text("edited")
    finish(folder, notes)
    assert {p.name: p.read_text() for p in folder.iterdir()} == {
        "a.csv": "edited",
        "b.csv": "new b",
    }
    assert capsys.readouterr().err == ""


@pytest.mark.parametrize(
    "entry",
    [
        {"file": "../a.csv", "from": ".a.csv.x.tmp"},
        {"file": "/etc/a.csv", "from": ".a.csv.x.tmp"},
        {"file": "a.csv", "from": "../.a.csv.x.tmp"},
        {"file": "a.csv", "from": "b.csv"},
        {"file": "x/y/a.csv", "from": ".a.csv.x.tmp"},
        {"file": "away/a.csv", "from": ".a.csv.x.tmp"},
        {"file": "a.csv"},
        "a.csv",
    ],
)
def test_a_note_that_was_tampered_with_moves_nothing(entry: object, tmp_path: Path) -> None:
    folder = tmp_path / "study"
    folder.mkdir()
    away = tmp_path / "elsewhere"
    away.mkdir()
    (folder / "away").symlink_to(away)
    for place in (tmp_path, folder, away):
        (place / "a.csv").write_text("old")
        (place / ".a.csv.x.tmp").write_text("evil")
    (folder / "b.csv").write_text("evil")
    sums = {"before": put._sum_of(folder / "a.csv"), "after": put._sum_of(folder / "b.csv")}
    notes = folder / UNFINISHED
    notes.write_text(json.dumps([{**entry, **sums} if isinstance(entry, dict) else entry]))
    finish(folder, notes)
    assert [(p / "a.csv").read_text() for p in (tmp_path, folder, away)] == ["old"] * 3
    assert not notes.exists()


def test_a_folder_that_is_a_link_inside_the_study_is_finished_too(tmp_path: Path) -> None:
    (tmp_path / "old").mkdir()
    (tmp_path / "lists").symlink_to("old")
    temporary = tmp_path / "old" / ".L1.csv.x.tmp"
    temporary.write_text("drawn")
    todo = {"file": "lists/L1.csv", "from": temporary.name, "before": ""}
    notes = tmp_path / UNFINISHED
    notes.write_text(json.dumps([{**todo, "after": put._sum_of(temporary)}]))
    finish(tmp_path, notes)
    assert (tmp_path / "old" / "L1.csv").read_text() == "drawn"


@pytest.mark.parametrize("text", ["", "{", "[" * 100_000, "null", '{"file": 1}'])
def test_a_note_that_is_none_stops_nothing(text: str, tmp_path: Path) -> None:
    notes = tmp_path / UNFINISHED
    notes.write_text(text)
    finish(tmp_path, notes)


def test_a_new_file_comes_whole_and_never_over_another(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "K1.xlsx"
    create(path, b"mine")
    with pytest.raises(FileExistsError):
        create(path, b"yours")
    (tmp_path / "K2.xlsx").symlink_to("nowhere")
    with pytest.raises(FileExistsError):
        create(tmp_path / "K2.xlsx", b"yours")

    def fails(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(put.os, "fsync", fails)
    with pytest.raises(OSError, match="No space"):
        create(tmp_path / "K3.xlsx", b"mine")
    assert path.read_bytes() == b"mine"
    assert {p.name for p in tmp_path.iterdir()} == {"K1.xlsx", "K2.xlsx"}


def test_without_hard_links_a_new_file_comes_all_the_same(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def none(*_: object) -> None:
        raise PermissionError(1, "Operation not permitted")

    monkeypatch.setattr(put.os, "link", none)
    create(tmp_path / "a", b"mine")
    assert (tmp_path / "a").read_bytes() == b"mine"
    with pytest.raises(FileExistsError):
        create(tmp_path / "a", b"yours")
    assert {p.name for p in tmp_path.iterdir()} == {"a"}


@pytest.mark.parametrize("where", ["write", "rename"])
def test_without_hard_links_a_new_file_is_whole_or_not_there(
    where: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The disk is full once the temporary file is written: a copy of it gets 2 of 5 bytes."""
    usual = Path.open

    def fails(*_: object) -> None:
        raise OSError(28, "No space left on device")

    class Full(io.FileIO):
        def write(self, data: object) -> int:
            super().write(bytes(data)[:2])  # type: ignore[call-overload] - bytes, as given
            raise OSError(28, "No space left on device")

    def opened(path: Path, mode: str = "r", **how: Any) -> Any:
        return Full(path, "x") if mode == "xb" else usual(path, mode, **how)

    path = tmp_path / "new.xlsx"
    with monkeypatch.context() as patch:
        patch.setattr(put.os, "link", fails)
        patch.setattr(Path, "open", opened)
        if where == "rename":
            patch.setattr(put.os, "replace", fails)
        with contextlib.suppress(OSError):
            create(path, b"whole")
    assert [p.read_bytes() for p in tmp_path.iterdir()] in ([], [b"whole"])
    assert path.exists() == (where == "write")


@pytest.mark.skipif(os.name != "posix", reason="no umask on other systems")
@pytest.mark.parametrize(("mask", "mode"), [(0o077, 0o600), (0o027, 0o640), (0o022, 0o644)])
def test_a_new_file_is_read_by_whom_the_umask_says(mask: int, mode: int, tmp_path: Path) -> None:
    new, old = tmp_path / "new.csv", tmp_path / "old.csv"
    old.write_text("old")
    old.chmod(0o664)
    before = os.umask(mask)
    try:
        create(new, b"mine")
        replace(tmp_path / "other.csv", b"mine")
        replace(old, b"new")
    finally:
        os.umask(before)
    assert [p.stat().st_mode & 0o777 for p in (new, tmp_path / "other.csv")] == [mode, mode]
    assert old.stat().st_mode & 0o777 == 0o664  # as the keeper had it


def test_links_are_followed_for_files_and_not_for_folders(tmp_path: Path) -> None:
    (tmp_path / "real").write_text("x")
    (tmp_path / "link").symlink_to("real")
    assert original(tmp_path / "link") == (tmp_path / "real").resolve()
    assert original(tmp_path / "new") == tmp_path / "new"
    (tmp_path / "one").symlink_to("two")
    (tmp_path / "two").symlink_to("one")
    with pytest.raises(StudyError, match="leads back to itself"):
        original(tmp_path / "one")
    (tmp_path / "lists").symlink_to(tmp_path)
    with pytest.raises(StudyError, match="is a link that leads to the study itself"):
        inner(tmp_path, "lists", make=True)


@pytest.mark.parametrize(
    ("file", "kept", "goes"),
    [
        ("lists/L1.csv", True, True),
        ("lists/L1.csv", False, False),  # a file that lies nowhere else is never taken away
        ("checks.csv", True, False),  # no sheet is
        ("earlier/lists-L1.csv", True, False),
        ("../outside.csv", True, False),
        ("lists/../../outside.csv", True, False),
        ("link/L1.csv", True, False),
    ],
)
def test_a_note_takes_away_only_what_is_kept(
    file: str, kept: bool, goes: bool, tmp_path: Path
) -> None:
    folder = tmp_path / "study"
    for place in ("lists", "earlier", "elsewhere"):
        (folder / place).mkdir(parents=True)
    (folder / "link").symlink_to(folder / "elsewhere")
    names = ("lists/L1.csv", "checks.csv", "elsewhere/L1.csv", "../outside.csv")
    for name in names:
        (folder / name).write_text("one")
    if kept:
        (folder / "earlier" / "lists-L1.csv").write_text("one")
    notes = folder / "earlier" / UNFINISHED
    entry = {"file": file, "from": "", "before": hashlib.sha256(b"one").hexdigest()}
    notes.write_text(json.dumps([entry]))
    finish(folder, notes)
    gone = [name for name in names if not (folder / name).exists()]
    assert gone == (["lists/L1.csv"] if goes else [])
    assert (folder / "earlier" / "lists-L1.csv").exists() == kept


def test_nothing_is_taken_away_while_rows_that_need_it_stay(tmp_path: Path) -> None:
    """Cut off before its first rename, and the sheet changed by hand before the next command."""
    (tmp_path / "lists").mkdir()
    (tmp_path / "earlier").mkdir()
    for name in ("lists/L1.csv", "earlier/lists-L1.csv", "a.csv"):
        (tmp_path / name).write_text("one")
    notes = tmp_path / "earlier" / UNFINISHED
    with pytest.MonkeyPatch.context() as patch:
        cut_off(patch, 2)
        with pytest.raises(Cut):
            put_all(tmp_path, {tmp_path / "a.csv": b"two", tmp_path / "b.csv": b"new"}, notes,
                    [tmp_path / "lists" / "L1.csv"])  # fmt: skip
    (tmp_path / "a.csv").write_text("by hand")
    with contextlib.redirect_stderr(io.StringIO()):
        finish(tmp_path, notes)
    assert (tmp_path / "a.csv").read_text() == "by hand"
    assert (tmp_path / "lists" / "L1.csv").exists()
