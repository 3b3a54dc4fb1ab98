"""A Dask cluster as one sets it up by hand: scheduler and workers are processes of their own."""

import json
import os
import signal
import subprocess
import sys
import time
from contextlib import contextmanager, suppress

PATIENCE = 60
"""Seconds for a process to be there: other tests run beside."""


class Running:
    """A scheduler at `address`, and its workers."""

    def __init__(self, place, **env):
        self._place, self._env, self.workers = place, env, []
        told = place / "scheduler.json"
        self._scheduler = self._begun("dask_scheduler", "--host", "127.0.0.1", "--port", "0",
                                      "--no-dashboard", "--scheduler-file", told)  # fmt: skip
        until = time.monotonic() + PATIENCE
        while not told.exists() or not told.read_text().strip():
            assert self._scheduler.poll() is None, self.said()
            assert time.monotonic() < until, self.said()
            time.sleep(0.02)
        self.address = json.loads(told.read_text())["address"]

    def _begun(self, what, *words):
        with (self._place / "said.txt").open("ab") as said:
            return subprocess.Popen(
                [sys.executable, "-m", f"distributed.cli.{what}", *map(str, words)],
                stdout=said,
                stderr=said,
                env=os.environ
                | {"PYTHONPATH": os.pathsep.join(filter(None, sys.path))}
                | self._env,
                start_new_session=True,
            )

    def worker(self, *words):
        """One more worker, by itself: nobody begins it again when it is killed."""
        given = words or ("--no-nanny",)
        self.workers.append(
            self._begun("dask_worker", self.address, "--nthreads", "1", "--no-dashboard",
                        "--local-directory", self._place, *given)
        )  # fmt: skip
        return self.workers[-1]

    def end_scheduler(self):
        self._scheduler.kill()

    def said(self):
        return (self._place / "said.txt").read_text()

    def end(self):
        for one in (*self.workers, self._scheduler):
            with suppress(ProcessLookupError):
                os.killpg(one.pid, signal.SIGKILL)
            one.wait()


@contextmanager
def running(place, workers=2, *words, **env):
    """A cluster with so many workers, each with these words to `dask worker`."""
    place.mkdir(exist_ok=True)
    cluster = Running(place, **env)
    try:
        for _ in range(workers):
            cluster.worker(*words)
        yield cluster
    finally:
        cluster.end()
