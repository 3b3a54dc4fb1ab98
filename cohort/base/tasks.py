"""Tasks that leave a file each: done on this machine or on a cluster, and none twice.

Comes in: tasks, by the file (or folder) each is to leave. Goes out: those files. Never: what is in
them; a task whose file is there.

A task is done where there is room for it; what it gives comes back to this process, which alone
writes. So workers need no disk in common with it, files come whole and once, and a run that was
broken off goes on with the same command. A worker of a cluster that is lost costs the task it was
at: that is done again by another.
"""

from __future__ import annotations

import hashlib
import importlib
import json
import os
import sys
import threading
from collections.abc import Callable, Generator, Iterator, Mapping
from concurrent.futures import CancelledError
from contextlib import closing, contextmanager
from functools import cache
from pathlib import Path
from typing import Any, Final

from cohort.base import background, disk, telling
from cohort.base.errors import StudyError

ANSWERS: Final = 10
"""Seconds in which a scheduler has to answer."""
JOINS: Final = 30
"""Seconds in which a first worker has to join it."""
LACKING: Final = (
    "--scheduler needs the extra 'cluster' (dask with distributed), which is not installed. "
    "Install it beside this package, or leave --scheduler out."
)
_GOES_ON: Final = "What was done is kept; the same command goes on from there."

Task = Callable[[], Any]
"""A function of no arguments that other processes can be sent (`functools.partial` of one of a
module, with what it takes); gives what its file is to hold."""


def put_json(place: Path, values: Any) -> None:
    """Put what a task gave into its file as JSON, whole."""
    disk.put(place, json.dumps(values, indent=1))


def finish(
    tasks: Mapping[Path, Task],
    put: Callable[[Path, Any], None] = put_json,
    *,
    there: Callable[[Path], bool] = Path.exists,
    jobs: int = 1,
    scheduler: str = "",
) -> None:
    """Do every task whose file is not there, and put what it gives in its place.

    Whoever listens (`cohort.base.telling`) is told how many are done, those before included.

    Parameters
    ----------
    tasks : mapping of Path to callable
        By the file or folder each leaves. Its folder is made if missing, and drafts that killed
        runs left in it are cleared. Files of other tasks must not bear these names.
    put : callable
        Puts what a task gave in its place, whole or not at all; called in this process.
    there : callable
        Whether a task is done, by its place; asked again just before it would be begun here, for
        another run may have done it meanwhile.
    jobs : int
        Tasks at a time on this machine; with several each works on one core.
    scheduler : str
        Address of a Dask scheduler whose workers do the tasks; blank for this machine.

    Raises
    ------
    StudyError
        The extra is not installed; nobody answers at the address, no worker joins, workers run
        another version of this program or are lost one after the other. An error of a task is
        raised as it is. Files of tasks that were done stay.
    """
    for folder in {place.parent for place in tasks}:
        folder.mkdir(parents=True, exist_ok=True)
        disk.clear(folder)
    waiting = {place: task for place, task in tasks.items() if not there(place)}
    before = len(tasks) - len(waiting)
    if not waiting:
        return
    with _doing(waiting, there, jobs, scheduler) as coming:
        for place, given in telling.counted(coming, len(tasks), before=before):
            for found in given:
                put(place, found)


Given = tuple[Path, tuple[Any, ...]]
"""A place, and what its task gave; nothing where another run had done it."""


@contextmanager
def _doing(
    waiting: Mapping[Path, Task], there: Callable[[Path], bool], jobs: int, scheduler: str
) -> Iterator[Iterator[Given]]:
    """What tasks give, as it comes; however the block is left, no task is worked on any more."""
    if not scheduler:
        with closing(_local(waiting, there, max(1, min(jobs, len(waiting))))) as coming:
            yield coming
        return
    with client(scheduler) as answering, closing(_remote(answering, waiting)) as coming:
        yield coming


def _local(
    waiting: Mapping[Path, Task], there: Callable[[Path], bool], jobs: int
) -> Generator[Given, None, None]:
    import joblib

    if jobs > 1:
        background.end()  # there is one pool in a process: joblib would take that one for its own
    with background.unheard():
        ran = joblib.Parallel(n_jobs=jobs, return_as="generator_unordered")(
            joblib.delayed(_done)(place, task, there, os.getpid(), jobs > 1)
            for place, task in waiting.items()
        )
    with background.ended(ran) as coming:
        yield from coming


def _done(place: Path, task: Task, there: Callable[[Path], bool], main: int, shared: bool) -> Given:
    """One task, unless another run has done it meanwhile; for the process of this number."""
    background.ends_with(main)
    if shared:
        background.alone()
    if there(place):
        return place, ()
    with telling.heard_by(None):  # the tasks are counted
        return place, (task(),)


@contextmanager
def client(scheduler: str) -> Iterator[Any]:
    """A client of the scheduler at an address, with at least one worker.

    Raises
    ------
    StudyError
        See `finish`.
    """
    try:
        distributed: Any = importlib.import_module("distributed")  # it has few types
    except ImportError as missing:
        raise StudyError(LACKING) from missing
    try:
        made = distributed.Client(scheduler, timeout=ANSWERS)
    except (OSError, TimeoutError, ValueError) as fault:
        raise StudyError(f"No scheduler answers at {scheduler}: {fault}") from fault
    with made:
        try:
            made.wait_for_workers(1, timeout=JOINS)
        except TimeoutError as fault:
            raise StudyError(
                f"The scheduler at {scheduler} has no worker. Start some, as many as there are "
                f"cores: dask worker {scheduler} --nthreads 1"
            ) from fault
        yield made


def _remote(answering: Any, waiting: Mapping[Path, Task]) -> Generator[Given, None, None]:
    distributed: Any = importlib.import_module("distributed")  # it has few types
    lost: Any = importlib.import_module("distributed.scheduler").KilledWorker
    gone: Any = importlib.import_module("distributed.comm").CommClosedError
    sent = {
        answering.submit(_for_another, task, code(), pure=False): place
        for place, task in waiting.items()
    }
    at = answering.scheduler.address
    try:
        for future in distributed.as_completed(list(sent)):
            place = sent.pop(future)
            try:
                yield place, (future.result(),)
            except lost as fault:
                raise StudyError(
                    f"{place.name}: one worker after the other was lost while at it, as happens "
                    f"where there is too little memory. {_GOES_ON}"
                ) from fault
            except ModuleNotFoundError as fault:
                raise StudyError(
                    f"A worker of {at} lacks a package ({fault}): install this program there."
                ) from fault
    except (CancelledError, gone) as fault:
        raise StudyError(f"The scheduler at {at} has gone. {_GOES_ON}") from fault


_ONE: Final = threading.Lock()
"""Warnings, signals and the second process belong to a whole process: one task at a time in it,
however many threads a worker was given."""


def _for_another(task: Task, mark: str) -> Any:
    """One task, for a client elsewhere that runs the code of this mark.

    Raises
    ------
    StudyError
        Other code runs here.
    """
    if code() != mark:
        raise StudyError(
            "A worker runs another version of this program or of Python: its numbers would not be "
            "those of this machine. Install the same on both."
        )
    config: Any = importlib.import_module("dask").config
    # else xarray asks the scheduler for a lock where it writes, and is refused
    with _ONE, config.set(scheduler="synchronous"), telling.heard_by(None):
        background.alone()  # a worker is one of several, and may have no child processes
        return task()


@cache
def code() -> str:
    """Mark of the sources of this package and of the version of Python that runs them."""
    root = Path(__file__).parents[1]
    mark = hashlib.sha256(repr(sys.version_info[:2]).encode())
    for path in sorted(root.rglob("*.py")):
        mark.update(path.relative_to(root).as_posix().encode() + b"\0" + path.read_bytes())
    return mark.hexdigest()
