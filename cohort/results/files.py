"""The files in a folder of results: which are ours, and whether they are as they were written.

Comes in: a folder. Goes out: a refusal in plain words, or nothing. Never: what the files say
(see `cohort.results`).
"""

from __future__ import annotations

import hashlib
import json
import re
from collections.abc import Callable, Iterable, Mapping
from pathlib import Path
from typing import Any, Final

from cohort.base import making
from cohort.base.errors import StudyError
from cohort.base.moving import files_of
from cohort.terms.written.kept import FOLDER

OURS: Final = "run.json"
"""A folder that holds this file is one of ours and may be written again."""
TABLES: Final = (
    "comparisons", "verdicts", "sensitivity", "curves", "foundings", "second_opinion",
)  # fmt: skip
DRAWS: Final = "draws.nc"
STUDY_TABLES: Final = (
    "settings", "kinds", "foundings", "checks", "events", "catches", "temperatures", "faulty",
)  # fmt: skip
"""Tables of the study behind the numbers, see `cohort.results.kept_study`."""
THOROUGH: Final = "thorough"
"""Folder of what further fits gave, see `cohort.comparison.thorough`."""
REFITS: Final = "refits"
"""Folder of a file for each of these fits, put there as it is done."""
PAGE: Final = ("newsletter.html", "newsletter.pdf", "details.html", "story.txt", "captions.txt")
_LITTER: Final = frozenset((".DS_Store", "Thumbs.db"))
"""What a system leaves by itself in folders that were looked into."""
_NAMES: Final[frozenset[str]] = frozenset().union(
    (f"{name}.csv" for name in TABLES),
    (f"{FOLDER}/{name}.csv" for name in STUDY_TABLES),
    ("diagnosis.json", OURS, DRAWS, *PAGE, FOLDER),
    ("figures", "figures/photo.jpg", THOROUGH, f"{THOROUGH}/told.txt", REFITS),
)
_PATTERN: Final = re.compile(
    rf"keeper-[^/]+\.html|figures/[a-z_]+-\d+\.(svg|pdf|png)|{THOROUGH}/[a-z_]+\.csv"
    rf"|{REFITS}/[a-z_]+\.json(\.[0-9a-f]+\.part)?"
)
MINE: Final = "founding-cohort"
_KINDS: Final[dict[str, type | tuple[type, ...]]] = {
    "horizon": int,
    "seed": int,
    "level": (int, float),
    "versions": dict,
    "sheets": dict,
}
"""What readers go by in ``run.json``, and of which kind it is."""
AGAIN: Final = "Make it again with 'cohort compare STUDY --out FOLDER'."


def ours(name: str) -> bool:
    """Whether a file (path below the folder, with ``/``) is one this program writes there."""
    return name in _NAMES or _PATTERN.fullmatch(name) is not None or _litter(name)


def _litter(name: str) -> bool:
    return name.rpartition("/")[2] in _LITTER


def _bears_ours(folder: Path) -> bool:
    """Whether the folder holds a run of this program, be it damaged."""
    if not (folder / OURS).is_file():
        return False
    try:
        run = json.loads((folder / OURS).read_text("utf-8"))
    except (ValueError, RecursionError):  # cut off: ours by what lies beside it
        return (folder / "diagnosis.json").is_file() and (folder / "curves.csv").is_file()
    versions = run.get("versions") if isinstance(run, dict) else None
    return isinstance(versions, dict) and MINE in versions


def check_folder(folder: Path) -> None:
    """Refuse a folder that holds what is not ours, before any long work.

    Raises
    ------
    StudyError
        A file in it is none that this program writes, or it has files but no `OURS`, or it is a
        file itself.
    """
    if folder.is_file():
        raise StudyError(f"{folder} is a file; name a folder for the results.")
    if not folder.is_dir():
        return
    mine = _bears_ours(folder)
    there = [name for name in files_of(folder) if not _litter(name)]
    strange = [name for name in there if not (mine and ours(name))]
    if strange:
        more = f" and {len(strange) - 3} more" if len(strange) > 3 else ""
        raise StudyError(
            f"{folder} holds files that are not results of this program: "
            f"{', '.join(strange[:3])}{more}. Name a new folder, or move them elsewhere, so that "
            "nothing of yours is lost."
        )


class NotThereError(StudyError):
    """A folder in which results, or a part of them, are missing."""


class DamagedError(StudyError):
    """A file of results that is not as it was written; `what` says so without the way out."""

    def __init__(self, path: Path, why: str) -> None:
        self.what = f"{path} is damaged: {why}."
        super().__init__(f"{self.what} {AGAIN}")


def need(folder: Path, names: Iterable[str]) -> None:
    """Raise if a file of the contract is not there."""
    missing = [n for n in names if not (folder / n).is_file()]
    if missing:
        raise NotThereError(
            f"{folder} is not a folder of results: {', '.join(missing)} is not there. Make one "
            "with 'cohort compare STUDY --out FOLDER'."
        )


def loaded[T](path: Path, how: Callable[[Path], T]) -> T:
    """What a file holds, or in plain words that it is damaged."""
    try:
        return how(path)
    except OSError as fault:
        if fault.errno is not None and path.suffix != ".nc":
            raise StudyError(f"{path} cannot be read ({fault.strerror}).") from fault
        raise DamagedError(path, "it cannot be read") from fault
    except (ValueError, KeyError, TypeError, RuntimeError, AttributeError) as fault:
        raise DamagedError(path, "it cannot be read") from fault


def json_of(path: Path) -> dict[str, Any]:
    """What a JSON file says by name."""
    values = json.loads(path.read_text("utf-8"))
    if not isinstance(values, dict):
        raise ValueError(path)
    return values


def run_of(folder: Path) -> dict[str, Any]:
    """What ``run.json`` says, with all that readers go by."""
    run = loaded(folder / OURS, json_of)
    lacking = [name for name, kind in _KINDS.items() if not isinstance(run.get(name), kind)]
    if lacking:
        raise DamagedError(folder / OURS, f"no usable {', '.join(lacking)} is in it")
    return run


def as_written(folder: Path, run: Mapping[str, Any], names: Iterable[str]) -> None:
    """Raise if a file is not the one that was written with this run."""
    sums: Any = run.get("files")
    for name in names if isinstance(sums, dict) else ():  # a run without sums is taken as it is
        if loaded(folder / name, sum_of) != sums.get(name):
            raise DamagedError(folder / name, "it was cut off, or changed since it was written")


def sums_of(place: Path) -> dict[str, str]:
    """The sha256 of every file of numbers in a folder, by its name."""
    kept = (f"{FOLDER}/{name}.csv" for name in STUDY_TABLES)
    names = (*(f"{name}.csv" for name in TABLES), *kept, "diagnosis.json", DRAWS)
    return {name: sum_of(place / name) for name in names if (place / name).is_file()}


def sum_of(path: Path) -> str:
    """The sha256 of a file."""
    return hashlib.sha256(path.read_bytes()).hexdigest()


def carry_over(folder: Path, place: Path) -> None:
    """Take along what further fits gave, if the folder holds this very comparison.

    Parameters
    ----------
    folder : Path
        What lies there until now.
    place : Path
        Filled by `cohort.results.fill`.
    """
    run = folder / OURS
    if not (run.is_file() and run.read_bytes() == (place / OURS).read_bytes()):
        return
    for name in (THOROUGH, REFITS):
        if (folder / name).is_dir():
            (place / name).mkdir()
            for path in sorted((folder / name).iterdir()):
                if ours(f"{name}/{path.name}"):
                    making.write(place / name / path.name, path.read_bytes())


def mark_of(folder: Path) -> str:
    """Mark of the comparison a folder holds: sha256 of its ``run.json``; blank without one."""
    run = folder / OURS
    return hashlib.sha256(run.read_bytes()).hexdigest() if run.is_file() else ""
