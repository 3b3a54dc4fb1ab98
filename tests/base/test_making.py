"""A folder filled out of sight: what it refuses, what it leaves alone, where it may lie."""

import errno
import json
import os
import shutil
import subprocess
import sys
from collections import namedtuple
from pathlib import Path

import pytest

from cohort.base import disk, making, moving
from cohort.base.errors import StudyError

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
    monkeypatch.setattr(moving, "exchanged", busy)
    fill(out, "new", ["b.csv", "figures/x.svg"])
    assert held(out) == {"b.csv": "new", "figures/x.svg": "new"}
    assert out.stat().st_ino == before
    assert beside(out) == []


def test_a_very_long_name(tmp_path):
    fill(tmp_path / ("o" * 250), "old")
    making.mended(tmp_path / ("o" * 250), ours)
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
from cohort.base import making
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


FILLED = "new-0000000a"


@pytest.mark.parametrize(
    "listed",
    [
        {"drop": ["../mine.txt"]},
        {"files": ["../mine.txt"]},
        {"drop": ["HERE/mine.txt"]},
        {"files": ["HERE/mine.txt"]},
        {"new": "../.."},
        {"new": "mine"},
        {"files": ["linked/keys"]},
        {"drop": ["linked/keys"]},
        {"files": ["from/keys"]},
        {"inside": True, "files": ["keys"]},
        {"new": "new-0000000b", "files": ["keys"]},
        {"files": ["not ours.txt"]},
        {"files": None},
        {"new": 3},
        [],
        None,
        "cut off",
    ],
    ids=str,
)
def test_a_list_from_elsewhere_reaches_nothing_outside(out, tmp_path, listed):
    """A folder of results may have come by mail."""
    shop, home = tmp_path / ".out.making", tmp_path / "home"
    new = shop / FILLED
    for place in (new / "linked", shop / "mine", home / FILLED):
        place.mkdir(parents=True)
        (place / "keys").write_text("theirs")
    (home / "keys").write_text("mine")
    (tmp_path / "mine.txt").write_text("mine")
    (new / "not ours.txt").write_text("theirs")
    for link in (out / "linked", out / ".making", shop / "new-0000000b", new / "from"):
        link.symlink_to(home)
    if isinstance(listed, dict):
        listed = {"new": FILLED, "inside": False, "files": [], "drop": []} | listed
        if listed["inside"]:  # the other workshop is then a folder, its new files are not
            (out / ".making").unlink()
            (out / ".making").mkdir()
            (out / ".making" / FILLED).symlink_to(home)
        else:
            (out / ".making").unlink()
    else:
        (out / ".making").unlink()
    text = "{" if listed == "cut off" else json.dumps(listed)
    (shop / "ready.json").write_text(text.replace("HERE", tmp_path.as_posix()))
    with pytest.raises(StudyError, match=r"ready\.json is damaged|not ours\.txt cannot be"):
        making.mended(out, lambda name: name != "not ours.txt")
    assert held(home) == {"keys": "mine", f"{FILLED}/keys": "theirs"}
    assert (tmp_path / "mine.txt").read_text() == "mine"
    assert (shop / "mine" / "keys").exists()
    assert sorted(os.listdir(out))[-3:] == ["a.csv", "b.csv", "linked"]


def test_what_came_meanwhile_is_not_brought_back_through_a_link(out, tmp_path):
    (tmp_path / "home").mkdir()
    (tmp_path / "home" / "keys").write_text("mine")
    (out / "linked").symlink_to(tmp_path / "home")
    (tmp_path / ".out.making" / FILLED / "linked").mkdir(parents=True)
    (tmp_path / ".out.making" / FILLED / "linked" / "keys").write_text("theirs")
    (tmp_path / ".out.making" / "swapping").write_text(FILLED)
    with pytest.raises(StudyError, match="linked is a link to a folder elsewhere"):
        fill(out, "new")
    assert (tmp_path / "home" / "keys").read_text() == "mine"


@pytest.mark.parametrize("fills", [making.remade, making.added])
@pytest.mark.parametrize("stands", [True, False])
def test_nothing_is_written_through_a_link_to_a_folder(out, tmp_path, fills, stands, monkeypatch):
    (tmp_path / "home").mkdir()
    (tmp_path / "home" / "x.svg").write_text("mine")
    (out / "figures").symlink_to(tmp_path / "home")
    if stands:
        monkeypatch.chdir(out)
    check = () if fills is making.added else (lambda at: None,)

    def filled() -> None:
        with fills(Path(".") if stands else out, lambda name: True, *check) as new:
            (new.place / "figures").mkdir()
            making.write(new.place / "figures" / "x.svg", "new")

    with pytest.raises(StudyError, match="figures is a link to a folder elsewhere, and nothing"):
        filled()
    assert (tmp_path / "home" / "x.svg").read_text() == "mine"
    assert (out / "figures").is_symlink()
    assert beside(out) == []
    assert not (out / ".making").exists()


# --- a workshop that is none of ours --------------------------------------------------------------


@pytest.mark.parametrize("name", ["out/.making", ".out.making"])
def test_a_linked_workshop_is_refused(out, tmp_path, name):
    for place in ("new-york", "old", FILLED):
        (tmp_path / "home" / place).mkdir(parents=True)
        (tmp_path / "home" / place / "song").write_text("mine")
    (tmp_path / name).symlink_to(tmp_path / "home")
    before = held(tmp_path / "home")
    assert "making is a link to a folder elsewhere" in told(out)
    (tmp_path / "home" / "ready.json").write_text("{}")
    with pytest.raises(StudyError, match="making is a link to a folder elsewhere"):
        making.mended(out, ours)
    (tmp_path / "home" / "ready.json").unlink()
    assert held(tmp_path / "home") == before
    assert (tmp_path / name).is_symlink()


@pytest.mark.parametrize("name", ["out/.making", ".out.making"])
def test_a_folder_that_is_refused_loses_nothing(out, tmp_path, name):
    for place in ("new-song", FILLED, "old"):
        (tmp_path / name / place).mkdir(parents=True)
        (tmp_path / name / place / "song").write_text("mine")
    before = held(tmp_path)

    def refused(at: Path) -> None:
        raise StudyError("it holds other files")

    assert told(out, check=refused) == "it holds other files"
    assert held(tmp_path) == before


@pytest.mark.parametrize("how", ["remade", "added", "stands in it"])
def test_a_folder_that_bears_the_name_of_a_workshop_is_kept(out, how, monkeypatch):
    (out / ".making" / "new-song").mkdir(parents=True)
    (out / ".making" / "new-song" / "song").write_text("mine")
    if how == "stands in it":
        monkeypatch.chdir(out)
    if how == "added":
        with making.added(out, ours) as new:
            making.write(new.place / "a.csv", "new")
    else:
        fill(out, "new")
    assert (out / ".making" / "new-song" / "song").read_text() == "mine"
    assert (out / "a.csv").read_text() == "new"
    assert moving.files_of(out) == [".making/new-song/song", "a.csv", "b.csv"]
    assert beside(out) == []


def test_no_workshop_stands_in_a_folder_of_someone_else(out, monkeypatch):
    (out / ".making").mkdir()
    (out / ".making" / "song").write_text("mine")
    monkeypatch.setattr(os.path, "ismount", lambda at: Path(at) == out)
    assert ".making holds files that are not of this program" in told(out)
    assert os.listdir(out / ".making") == ["song"]


# --- files that are on their way ------------------------------------------------------------------


@pytest.mark.parametrize("comes", ["reader", "writer", "refused writer"])
def test_files_half_moved_from_within_are_put_in_place_from_wherever_one_comes(out, comes):
    """Their writer could not write beside the folder; who comes next can."""
    place = out / ".making" / FILLED
    place.mkdir(parents=True)
    (place / "b.csv").write_text("new")
    (out / "a.csv").write_text("new")
    listed = {"new": FILLED, "inside": True, "files": ["a.csv", "b.csv"], "drop": []}
    (out / ".making" / "ready.json").write_text(json.dumps(listed))
    seen = []

    def refused(at: Path) -> None:
        seen.append(held(at))
        raise StudyError("it holds other files")

    if comes == "reader":
        making.mended(out, ours)
    elif comes == "writer":
        with making.remade(out, ours, lambda at: None) as new:
            seen.append(held(out))
            assert new.place.parent == out.parent / ".out.making"
            making.write(new.place / "a.csv", "newer")
        assert held(out) == {"a.csv": "newer"}
        fill(out, "new")
    else:
        told(out, check=refused)
    assert comes == "reader" or seen == [{"a.csv": "new", "b.csv": "new"}]
    assert held(out) == {"a.csv": "new", "b.csv": "new"}
    assert sorted(os.listdir(out)) == ["a.csv", "b.csv"]
    assert beside(out) == []


def test_a_command_that_does_not_know_the_files_leaves_them_to_one_that_does(out):
    place = out.parent / ".out.making" / FILLED
    place.mkdir(parents=True)
    (place / "b.csv").write_text("new")
    listed = {"new": FILLED, "inside": False, "files": ["b.csv"], "drop": ["a.csv"], "whole": True}
    (place.parent / "ready.json").write_text(json.dumps(listed))
    with pytest.raises(StudyError, match=r"b\.csv cannot be put in place from here"):
        making.added(out).__enter__()
    assert held(out) == {"a.csv": "old", "b.csv": "old"}
    making.mended(out, ours)
    assert held(out) == {"b.csv": "new"}
    assert beside(out) == []


@pytest.mark.parametrize("there", ["nothing", "empty", "old"])
@pytest.mark.parametrize("often", [1, 99])
def test_a_file_that_is_open_for_a_moment_costs_no_results(tmp_path, there, often, monkeypatch):
    """As Windows refuses to rename a folder while a virus scanner reads a file in it."""
    folder, rename, refusals, waited = tmp_path / "out", os.rename, [], []
    if there == "empty":
        folder.mkdir()
    elif there == "old":
        fill(folder, "old")

    def busy(one, other):
        if len(refusals) < often and folder in (Path(one), Path(other)):
            refusals.append(one)
            raise PermissionError(errno.EACCES, os.strerror(errno.EACCES), str(one))
        rename(one, other)

    monkeypatch.setattr(os, "rename", busy)
    monkeypatch.setattr(moving, "exchanged", lambda one, other: False)
    monkeypatch.setattr(disk.time, "sleep", waited.append)
    fill(folder, "new", ["b.csv", "figures/x.svg"])
    assert held(folder) == {"b.csv": "new", "figures/x.svg": "new"}
    assert beside(folder) == []
    assert os.listdir(folder).count(".making") == 0
    assert refusals
    assert waited[0] > 0
    assert sum(waited) < 5


def test_a_file_that_stays_open_is_put_in_place_by_the_next_command(out, monkeypatch):
    replace = os.replace

    def busy(one, other):
        if Path(other) == out / "b.csv":
            raise PermissionError(errno.EACCES, os.strerror(errno.EACCES), str(other))
        replace(one, other)

    with monkeypatch.context() as patch:
        patch.chdir(out)
        patch.setattr(os, "replace", busy)
        patch.setattr(disk.time, "sleep", lambda wait: None)
        said = told(Path("."))
    assert "Close what has them open, or make room. The next command that reads or" in said
    assert held(out) == {"a.csv": "new", "b.csv": "old"}
    making.mended(out, ours)
    assert held(out) == {"a.csv": "new", "b.csv": "new"}
    assert beside(out) == []


# --- no room ------------------------------------------------------------------------------------

LIMITED = """
import resource, sys
from pathlib import Path
from cohort.base import making
from cohort.base.errors import StudyError
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
