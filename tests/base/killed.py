"""Kill a writer at each of its steps, and look what lies in the folder; by test_making_killed.py.

Usage: python killed.py HOW PLACE [LAST]. Every touch of a file (opened, renamed, taken away, a
folder made) is a step; a child is killed right before step 1, 2, 3 ... until it comes through.
"""

import json
import os
import signal
import sys
from pathlib import Path

from cohort.base import making, moving

OLD = {"a.csv": "old a", "b.csv": "old b", "page.html": "old page", "figures/x.svg": "old x"}
NEW = {"a.csv": "new a", "b.csv": "new b", "c.csv": "new c", "figures/y.svg": "new y"}
STEPS = ("open", "os.", "shutil.", "ctypes.call")


def ours(name: str) -> bool:
    return name != "stray.txt"


def filled(place: Path, files: dict[str, str]) -> None:
    for name, text in files.items():
        (place / name).parent.mkdir(exist_ok=True)
        making.write(place / name, text * 50)


def held(folder: Path) -> dict[str, str]:
    return {name: (folder / name).read_text()[: -len("x")] for name in moving.files_of(folder)}


def wanted(files: dict[str, str]) -> dict[str, str]:
    return {name: (text * 50)[: -len("x")] for name, text in files.items()}


def write(how: str, folder: Path) -> None:
    if how == "added":
        with making.added(folder, ours) as new:
            filled(new.place, NEW)
        return
    with making.remade(folder, ours, lambda at: None, room=0) as new:
        filled(new.place, NEW)


def child(how: str, folder: Path, last: int) -> None:
    if how == "two renames":
        moving.exchanged = lambda one, other: False
    if how == "one by one":
        os.chdir(folder)
    if how == "another disk":  # as a mount of the same disk behaves
        moving._stays = lambda bench: True
        moving._other_disk = lambda new, target: True
    seen = 0

    def step(event: str, what: tuple) -> None:
        nonlocal seen
        if (event.startswith(STEPS) and str(folder.parent) in str(what)) or event == "os.listdir":
            seen += 1
            if seen == last:
                os.kill(os.getpid(), signal.SIGKILL)

    sys.addaudithook(step)
    write(how, folder)


def trial(how: str, folder: Path, last: int) -> tuple[bool, str, str]:
    """Whether the writer was killed; what lay there right then; and after a reader came."""
    there = {} if how == "new folder" else OLD
    if there:
        folder.mkdir()
        filled(folder, there)
    process = os.fork()
    if not process:
        child(how, folder, last)
        os._exit(0)
    killed = os.WIFSIGNALED(os.waitpid(process, 0)[1])
    both = OLD | NEW if how == "added" else NEW
    names = {"old": wanted(there), "new": wanted(both)}

    def what() -> str:
        now = held(folder) if folder.is_dir() else {}
        return next((name for name, files in names.items() if now == files), "mixed")

    at_once = what() if folder.is_dir() or not there else "away"
    making.mended(folder, ours)
    mended = what()
    if folder.is_dir():
        (folder / "stray.txt").write_text("mine")
    write("remade", folder)
    assert held(folder).pop("stray.txt", "min") == "min", "a stray file was lost"
    (folder / "stray.txt").unlink(missing_ok=True)
    assert held(folder) == wanted(NEW), held(folder)
    left = [path.name for path in folder.parent.iterdir() if path != folder]
    assert not left, left
    return killed, at_once, mended


def main(how: str, place: Path) -> None:
    trials, last = [], 0
    while True:
        last += 1
        home = place / f"{last:03d}"
        home.mkdir()
        killed, at_once, mended = trial(how, home / "out", last)
        if not killed:
            break
        trials.append([at_once, mended])
    print(json.dumps(trials))


if __name__ == "__main__":
    main(sys.argv[1], Path(sys.argv[2]))
