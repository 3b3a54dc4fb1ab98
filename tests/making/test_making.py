"""A folder filled out of sight: what it refuses, what it leaves alone, where it may lie."""

import errno
import os
import shutil
import subprocess
import sys
from collections import namedtuple
from pathlib import Path

import pytest

from cohort import making, moving
from cohort.errors import StudyError

NAMES = {"a.csv", "b.csv", "figures/x.svg"}


def ours(name: str) -> bool:
    return name in NAMES


def fill(folder: Path, text: str, names=("a.csv", "b.csv"), check=lambda at: None) -> None:
    with making.remade(folder, ours, check) as new:
        for name in names:
            (new.place / name).parent.mkdir(exist_ok=True)
            making.write(new.place / name, text)


def held(folder: Path) -> dict[str, str]:
    return {name: (folder / name).read_text() for name in moving.files_of(folder)}


def beside(folder: Path) -> list[str]:
    return sorted(p.name for p in folder.parent.iterdir() if p.name.startswith("."))


@pytest.fixture
def out(tmp_path) -> Path:
    folder = tmp_path / "out"
    fill(folder, "old")
    return folder


def test_files_of_before_are_gone_and_nothing_is_left_beside(out):
    fill(out, "new", ["b.csv", "figures/x.svg"])
    assert held(out) == {"b.csv": "new", "figures/x.svg": "new"}
    assert beside(out) == []


@pytest.mark.parametrize("error", [KeyboardInterrupt, SystemExit, ValueError, StudyError])
def test_any_error_leaves_the_folder_as_it_was(out, error):
    def broken_off() -> None:
        with making.remade(out, ours, lambda at: None) as new:
            making.write(new.place / "a.csv", "new")
            raise error

    with pytest.raises(error):
        broken_off()
    assert held(out) == {"a.csv": "old", "b.csv": "old"}
    assert beside(out) == []


def test_an_error_leaves_no_folder_that_was_not_there(tmp_path):
    with pytest.raises(ValueError), making.remade(tmp_path / "a/b/c", ours, lambda at: None):
        raise ValueError
    assert list(tmp_path.iterdir()) == []


def test_the_folder_is_asked_once_before_anything_is_written(out):
    asked = []
    fill(out, "new", check=asked.append)
    assert asked == [out]


def test_a_file_that_came_meanwhile_is_not_lost(out):
    with making.remade(out, ours, lambda at: None) as new:
        making.write(new.place / "a.csv", "new")
        (out / "mine.txt").write_text("mine")
        (out / "deep").mkdir()
        (out / "deep" / "mine.txt").write_text("mine too")
    assert held(out) == {"a.csv": "new", "mine.txt": "mine", "deep/mine.txt": "mine too"}


# --- where it may lie ---------------------------------------------------------------------------


def test_a_link_is_followed(out, tmp_path):
    link = tmp_path / "link"
    link.symlink_to(out, target_is_directory=True)
    fill(link, "new")
    assert link.is_symlink()
    assert held(out) == {"a.csv": "new", "b.csv": "new"}


def test_a_link_to_nothing_yet_makes_what_it_points_to(tmp_path):
    (tmp_path / "link").symlink_to(tmp_path / "far" / "out")
    fill(tmp_path / "link", "new")
    assert held(tmp_path / "far" / "out") == {"a.csv": "new", "b.csv": "new"}


def test_an_empty_folder_and_one_whose_parents_are_missing(tmp_path):
    (tmp_path / "empty").mkdir(mode=0o750)
    fill(tmp_path / "empty", "new")
    assert (tmp_path / "empty").stat().st_mode & 0o777 == 0o750
    fill(tmp_path / "a" / "b", "new")
    assert held(tmp_path / "empty") == held(tmp_path / "a" / "b")


def test_the_folder_one_stands_in_stays_the_same_folder(out, monkeypatch):
    monkeypatch.chdir(out)
    before = out.stat().st_ino
    fill(Path("."), "new", ["b.csv"])
    assert out.stat().st_ino == before
    assert os.listdir() == ["b.csv"]
    assert held(out) == {"b.csv": "new"}


@pytest.mark.parametrize("what", ["mount", "parent"])
def test_where_no_workshop_can_stand_beside_it_stands_inside(out, what, monkeypatch):
    if what == "mount":
        monkeypatch.setattr(os.path, "ismount", lambda at: Path(at) == out)
    else:
        monkeypatch.setattr(os, "access", lambda at, how: Path(at) != out.parent)
    with making.remade(out, ours, lambda at: None) as new:
        assert new.place.parent == out / ".making"
        making.write(new.place / "b.csv", "new")
    assert held(out) == {"b.csv": "new"}
    assert not (out / ".making").exists()
    assert beside(out) == []


def test_a_mount_that_does_not_say_so_is_filled_by_copies(out, monkeypatch):
    """A folder mounted from the same disk: renaming it, or into it, is refused."""
    before, rename = out.stat().st_ino, os.rename

    def refused(one, other):
        if out in Path(one).parents != out in Path(other).parents or out in map(Path, (one, other)):
            raise OSError(errno.EXDEV, os.strerror(errno.EXDEV), str(one))
        rename(one, other)

    def busy(one, other):
        raise OSError(errno.EBUSY, os.strerror(errno.EBUSY), str(other))

    monkeypatch.setattr(os, "rename", refused)
    monkeypatch.setattr(moving, "_exchanged", busy)
    fill(out, "new", ["b.csv", "figures/x.svg"])
    assert held(out) == {"b.csv": "new", "figures/x.svg": "new"}
    assert out.stat().st_ino == before
    assert beside(out) == []


def test_a_very_long_name(tmp_path):
    fill(tmp_path / ("o" * 250), "old")
    fill(tmp_path / ("o" * 250), "new")
    assert held(tmp_path / ("o" * 250)) == {"a.csv": "new", "b.csv": "new"}


def test_files_are_added_or_written_over_and_the_rest_stays(out):
    (out / "mine.txt").write_text("mine")
    with making.added(out, ours) as new:
        making.write(new.place / "b.csv", "new")
        assert held(out)["b.csv"] == "old"
    assert new.later(new.place / "b.csv") == out / "b.csv"
    assert held(out) == {"a.csv": "old", "b.csv": "new", "mine.txt": "mine"}
    assert beside(out) == []


# --- what it refuses ----------------------------------------------------------------------------


def told(folder: Path, **how) -> str:
    with pytest.raises(StudyError) as fault:
        fill(folder, "new", **how)
    return str(fault.value)


def test_a_file_in_place_of_a_folder_above_it(tmp_path):
    (tmp_path / "file").write_text("mine")
    assert "file is a file" in told(tmp_path / "file" / "out")


def test_too_little_room_is_told_before_work_begins(out, monkeypatch):
    usage = namedtuple("usage", "total used free")
    monkeypatch.setattr(shutil, "disk_usage", lambda at: usage(9, 8, 2_400_000))
    worked = []
    with (
        pytest.raises(StudyError, match=r"only 2\.4 MB are free there, and 30 MB should be"),
        making.remade(out, ours, lambda at: None),
    ):
        worked.append(1)
    assert not worked
    assert held(out) == {"a.csv": "old", "b.csv": "old"}


@pytest.mark.parametrize("which", ["folder", "parent"])
def test_what_cannot_be_written_to_is_told_before_work_begins(out, which, monkeypatch):
    shut = out if which == "folder" else out.parent
    folder = out if which == "folder" else out.parent / "new"
    access, mkdir = os.access, Path.mkdir

    def refused(self, *more, **how):
        if self.parent == shut:
            raise PermissionError(errno.EACCES, os.strerror(errno.EACCES), str(self))
        mkdir(self, *more, **how)

    monkeypatch.setattr(os, "access", lambda at, how: Path(at) != shut and access(at, how))
    monkeypatch.setattr(Path, "mkdir", refused)
    said = told(folder)
    assert f"{folder} cannot be written to (Permission denied). Nothing was written" in said


HOLD = """
import sys, time
from pathlib import Path
from cohort import making
with making.remade(Path(sys.argv[1]), lambda name: True, lambda at: None) as new:
    making.write(new.place / "a.csv", "other")
    print("held", flush=True)
    time.sleep(60)
"""


def test_a_workshop_in_use_is_left_alone_and_one_of_the_dead_is_cleared(out):
    with subprocess.Popen(
        [sys.executable, "-c", HOLD, str(out)], stdout=subprocess.PIPE, text=True
    ) as other:
        try:
            assert other.stdout.readline() == "held\n"
            left = sorted((out.parent / ".out.making").iterdir())
            assert "another command is writing to it" in told(out)
            assert sorted((out.parent / ".out.making").iterdir()) == left
            making.mended(out, ours)  # a reader waits for nobody
            assert held(out) == {"a.csv": "old", "b.csv": "old"}
        finally:
            other.kill()
    assert beside(out) == [".out.making"]
    fill(out, "new")
    assert held(out) == {"a.csv": "new", "b.csv": "new"}
    assert beside(out) == []


@pytest.mark.parametrize(
    "listed",
    [
        '{"new": "new-1", "inside": true, "files": [], "drop": ["../mine.txt"]}',
        '{"new": "new-1", "inside": true, "files": ["../mine.txt"], "drop": []}',
        '{"new": "../..", "inside": true, "files": [], "drop": []}',
        '{"new": "new-1", "inside": true, "files": [], "drop": ["/etc/hostname"]}',
        '{"new": "new-1"',
        "[]",
    ],
)
def test_a_list_from_elsewhere_reaches_nothing_outside(out, listed):
    """A folder of results may have come by mail."""
    (out.parent / "mine.txt").write_text("mine")
    (out / ".making" / "new-1").mkdir(parents=True)
    (out / ".making" / "ready.json").write_text(listed)
    with pytest.raises(StudyError, match=r"could not be put in place|cannot be put in place"):
        making.mended(out, lambda name: True)
    assert (out.parent / "mine.txt").read_text() == "mine"
    assert held(out) == {"a.csv": "old", "b.csv": "old"}


# --- no room ------------------------------------------------------------------------------------

LIMITED = """
import resource, sys
from pathlib import Path
from cohort import making
from cohort.errors import StudyError
names = [f"{i}.csv" for i in range(8)]
resource.setrlimit(resource.RLIMIT_FSIZE, (int(sys.argv[2]), resource.RLIM_INFINITY))
try:
    with making.remade(Path(sys.argv[1]), lambda name: True, lambda at: None) as new:
        for i, name in enumerate(names):
            making.write(new.place / name, "x" * 1000 * (i + 1))
except StudyError as fault:
    print(fault)
"""


@pytest.mark.skipif(os.name != "posix", reason="limits of a process are set as on Unix")
@pytest.mark.parametrize("limit", [0, 500, 1000, 3999, 7999, 8000])
def test_a_limit_on_files_ends_in_one_message_and_the_old_files(out, limit):
    ran = subprocess.run(
        [sys.executable, "-c", LIMITED, str(out), str(limit)], capture_output=True, text=True
    )
    assert ran.stderr == ""
    if limit < 8000:
        assert "there is no room for the files (File too large). Nothing was written" in ran.stdout
        assert held(out) == {"a.csv": "old", "b.csv": "old"}
    else:
        assert ran.stdout == ""
        assert len(held(out)) == 8
    assert beside(out) == []
