"""A command that adds rows, killed at one line after the other of its writing.

Run as ``python killer.py FOLDER STEP [undo|form|correct|merge|unmerge] [MOST]``: for each kill a
small study of two keepers gets a note file that fills three sheets. A child of this process is
killed (SIGKILL) just before the n-th line it runs inside the writing; then the next command must
find all of it or nothing, and the rows of before. With ``undo`` the command is killed that takes
these rows back, with ``form`` one that adds what a phone form sends, with ``correct`` one that
corrects a look, with ``merge`` one that takes in a packed study with a drawn list, with ``unmerge``
one that takes such a study back. Prints how many kills there were, and after how many of them the
command had done its work.
"""

from __future__ import annotations

import os
import shutil
import signal
import sys
from collections.abc import Callable
from pathlib import Path
from types import FrameType
from typing import Any

from cohort.base.errors import StudyError
from cohort.desk.correct import correct
from cohort.desk.log import log_look, log_message, log_notes
from cohort.desk.share import merge, pack
from cohort.desk.undo import undo
from cohort.sheets.append import EARLIER, locked
from cohort.sheets.lists import COLUMNS
from cohort.sheets.put import UNFINISHED
from cohort.study import Study, read_study

WRITING = ("put.py", "append.py")
NOTES = "2024-01-05\nK2-01 1 0 calm\nK1-01 1 0\nK2-02 3 0 mould\n2024-01-09\nK2-01 1 4\nK1-01 1 0\n"
HEADS = "founding,genus,started,queens,keeper\n"


def study(place: Path) -> Path:
    place.mkdir(parents=True)
    (place / "foundings-K1.csv").write_text(HEADS + "K1-01,Lasius,2024-01-01,1,K1\n")
    (place / "foundings-K2.csv").write_text(
        HEADS + "K2-01,Messor,2024-01-01,1,K2\nK2-02,Messor,2024-01-01,3,K2\n"
    )
    log_look(place, "K2-01", {"queens_alive": "1", "note": "first"}, date="2024-01-03")
    log_look(place, "K1-01", {"queens_alive": "1", "note": "first"}, date="2024-01-03")
    return place


def dies_at(stop: int) -> Callable[[FrameType, str, Any], Any]:
    """Trace function that kills its process at the n-th line inside the writing of rows."""
    inside, seen = False, 0

    def line(frame: FrameType, event: str, arg: Any) -> Any:
        nonlocal seen
        if event == "line":
            seen += 1
            if seen == stop:
                os.kill(os.getpid(), signal.SIGKILL)
        return line

    def call(frame: FrameType, event: str, arg: Any) -> Any:
        nonlocal inside
        inside = inside or frame.f_code.co_name in ("put_rows", "put_files")
        return line if inside and frame.f_code.co_filename.endswith(WRITING) else None

    return call


def cut(do: Callable[[], object], stop: int) -> bool:
    """Whether the work came to its end in a child that dies at the n-th line of its writing."""
    child = os.fork()
    if child == 0:
        sys.settrace(dies_at(stop))
        do()
        os._exit(0)
    return os.waitpid(child, 0)[1] == 0


def told(made: Study) -> list[tuple[str, ...]]:
    looks = [
        (str(r.founding), f"{r.date:%Y-%m-%d}", str(r.queens_alive), str(r.workers), str(r.note))
        for r in made.checks.itertuples()
    ]
    return looks + [
        (str(r.founding), f"{r.date:%Y-%m-%d}", r.event) for r in made.events.itertuples()
    ]


def main(folder: Path, step: int) -> None:
    folder.mkdir(parents=True, exist_ok=True)
    notes = folder / "pocket.txt"
    notes.write_text(NOTES)
    old = told(read_study(study(folder / "old")))
    log_notes(folder / "old", notes)
    whole = told(read_study(folder / "old"))
    assert len(whole) == len(old) + 6
    kills = through = 0
    new = study(folder / "new")
    for stop in range(1, 100_000, step):
        place = Path(shutil.copytree(new, folder / f"at-{stop}"))
        if cut(lambda place=place: log_notes(place, notes), stop):
            break
        kills += 1
        log_look(place, "K2-02", {"queens_alive": "3"}, date="2024-01-12")  # finishes or sweeps
        now = told(read_study(place))
        now.remove(("K2-02", "2024-01-12", "3", "<NA>", ""))
        assert sorted(now) in (sorted(old), sorted(whole)), (stop, now)
        assert not (place / EARLIER / UNFINISHED).exists(), stop
        through += sorted(now) == sorted(whole)
        again = log_notes(place, notes)
        assert again.rows + again.already == 6
        assert again.rows in (0, 6), (stop, again)
        now = told(read_study(place))
        assert len(now) == len(set(now)) == len(whole) + 1
        left = [p.name for p in place.rglob("*.tmp")]
        assert left == [], (stop, left)
    print(f"{kills} kills, {through} after which the rows were there", flush=True)


def back(folder: Path, step: int) -> None:
    """The same for an entry that is taken back."""
    folder.mkdir(parents=True, exist_ok=True)
    notes = folder / "pocket.txt"
    notes.write_text(NOTES)
    given = study(folder / "given")
    old = told(read_study(given))
    log_notes(given, notes)
    whole = told(read_study(given))
    kills = through = 0
    for stop in range(1, 100_000, step):
        place = Path(shutil.copytree(given, folder / f"at-{stop}"))
        if cut(lambda place=place: undo(place), stop):
            break
        kills += 1
        log_look(place, "K2-02", {"queens_alive": "3"}, date="2024-01-12")  # finishes or sweeps
        undo(place)
        now = told(read_study(place))
        assert sorted(now) in (sorted(old), sorted(whole)), (stop, now)
        through += sorted(now) == sorted(old)
        if sorted(now) == sorted(whole):
            undo(place)  # nothing was taken back: it still can be
            assert sorted(told(read_study(place))) == sorted(old), stop
        left = [p.name for p in place.rglob("*.tmp")]
        assert left == [], (stop, left)
    print(f"{kills} kills, {through} after which the rows were there", flush=True)


def parcel_of(folder: Path) -> Path:
    """A packed study with five rows that the other one lacks, and a drawn list."""
    sender, parcel = study(folder / "sender"), folder / "sent.zip"
    (sender / "foundings-K3.csv").write_text(
        HEADS + "K3-01,Lasius,2024-01-01,1,K3\nK3-02,Messor,2024-01-01,2,K3\n"
    )
    log_look(sender, "K3-02", {"queens_alive": "2"}, date="2024-01-04", event={"event": "mould"})
    log_look(sender, "K2-01", {"queens_alive": "1", "workers": "0"}, date="2024-01-06")
    (sender / "lists").mkdir()
    (sender / "lists" / "L1.csv").write_text(",".join(COLUMNS) + "\n")
    parcel.write_bytes(pack(sender).data)
    return parcel


def unmerged(folder: Path, step: int) -> None:
    """The same for a merge that is taken back: its rows and its list, all of them or none."""
    folder.mkdir(parents=True, exist_ok=True)
    given = study(folder / "given")
    old = sorted(told(read_study(given)))
    merge(given, parcel_of(folder))
    whole = sorted(told(read_study(given)))
    data = (given / "lists" / "L1.csv").read_bytes()
    kills = through = 0
    for stop in range(1, 100_000, step):
        place = Path(shutil.copytree(given, folder / "now"))
        ended = cut(lambda place=place: undo(place), stop)
        with locked(place):  # what any next command does: it finishes or sweeps
            pass
        now, listed = sorted(told(read_study(place))), place / "lists" / "L1.csv"
        assert now in (old, whole), (stop, now)
        assert listed.exists() == (now == whole), stop
        assert not (place / EARLIER / UNFINISHED).exists(), stop
        if now == whole:
            assert listed.read_bytes() == data, stop
            undo(place)
            assert sorted(told(read_study(place))) == old, stop
            assert not listed.exists(), stop
        kept = [path.read_bytes() for path in (place / EARLIER).glob("lists-L1.*.csv")]
        assert set(kept) == {data}, (stop, kept)
        assert [p.name for p in place.rglob("*.tmp")] == [], stop
        shutil.rmtree(place)
        if ended:
            break
        kills += 1
        through += now == old
    print(f"{kills} kills, {through} after which the rows were there", flush=True)


def taken(folder: Path, step: int) -> None:
    """The same for a packed study that is merged: its rows and its list, all of them or none."""
    folder.mkdir(parents=True, exist_ok=True)
    parcel = parcel_of(folder)
    given = study(folder / "given")
    old = told(read_study(given))
    whole = Path(shutil.copytree(given, folder / "whole"))
    added = sum(merge(whole, parcel).rows.values())
    new = told(read_study(whole))
    assert added == 5, added
    kills = through = 0
    for stop in range(1, 100_000, step):
        place = Path(shutil.copytree(given, folder / f"at-{stop}"))
        if cut(lambda place=place: merge(place, parcel), stop):
            break
        kills += 1
        log_look(place, "K2-02", {"queens_alive": "3"}, date="2024-01-12")  # finishes or sweeps
        now = told(read_study(place))
        now.remove(("K2-02", "2024-01-12", "3", "<NA>", ""))
        assert sorted(now) in (sorted(old), sorted(new)), (stop, now)
        there = sorted(now) == sorted(new)
        assert (place / "lists" / "L1.csv").exists() == there, stop
        assert not (place / EARLIER / UNFINISHED).exists(), stop
        through += there
        again = merge(place, parcel)
        assert sum(again.rows.values()) == (0 if there else added), (stop, again)
        assert not again.conflicts, (stop, again)
        now = told(read_study(place))
        assert len(now) == len(set(now)) == len(new) + 1
        left = [p.name for p in place.rglob("*.tmp")]
        assert left == [], (stop, left)
    print(f"{kills} kills, {through} after which the rows were there", flush=True)


# What the page of keeper K2 sends for two days (`cohort/desk/form/form.js`, `lines`).
FORM = (
    "2024-01-05\nK2-01 1 0 eggs note: calm\nK2-02 3 0 mould\n\n"
    "2024-01-09\nK2-01 1 4 pupae\nrest same\n\n"
)


def all_or_nothing(
    folder: Path, step: int, most: int, work: Callable[[Path], object], again: str
) -> None:
    """The work killed at every `step`-th line, up to `most` times; done once more it is whole."""
    folder.mkdir(parents=True, exist_ok=True)
    given = study(folder / "given")
    before = sorted(told(read_study(given)))
    kept = {path.name: path.read_bytes() for path in given.glob("*.csv")}
    done = Path(shutil.copytree(given, folder / "done"))
    work(done)
    whole = sorted(told(read_study(done)))
    assert whole != before
    kills = through = 0
    for stop in range(1, 100_000, step):
        place = Path(shutil.copytree(given, folder / "now"))
        ended = cut(lambda place=place: work(place), stop)
        if not ended and kills < most:
            kills += 1
            with locked(place):  # what any next command does: it finishes or sweeps
                pass
            now = sorted(told(read_study(place)))
            assert now in (before, whole), (stop, now)
            assert not (place / EARLIER / UNFINISHED).exists(), stop
            for name, data in kept.items():  # what stood there stands there, byte for byte
                assert (place / name).read_bytes().startswith(data), (stop, name)
            through += now == whole
            refused = ""
            try:
                work(place)
            except StudyError as fault:
                refused = str(fault)
            assert not refused or (again in refused and now == whole), (stop, refused)
            assert sorted(told(read_study(place))) == whole, stop
            left = [p.name for p in place.rglob("*.tmp")]
            assert left == [], (stop, left)
        shutil.rmtree(place)
        if ended or kills == most:
            break
    print(f"{kills} kills, {through} after which the rows were there", flush=True)


def form(folder: Path, step: int, most: int) -> None:
    """What a phone form sends."""
    all_or_nothing(folder, step, most, lambda place: log_message(place, FORM.encode()), "")


def corrected(folder: Path, step: int, most: int) -> None:
    """A look that is corrected."""
    right = {"queens_alive": "0"}
    all_or_nothing(
        folder, step, most, lambda place: correct(place, "K2-01", "2024-01-03", right), "says so"
    )


if __name__ == "__main__":
    where, every, *what = sys.argv[1:]
    count = int(what[1]) if what[1:] else 100_000
    if what[:1] in (["form"], ["correct"]):
        (form if what[0] == "form" else corrected)(Path(where), int(every), count)
    else:
        works = {"undo": back, "merge": taken, "unmerge": unmerged}
        works.get("".join(what), main)(Path(where), int(every))
