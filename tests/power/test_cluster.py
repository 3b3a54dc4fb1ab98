"""Real work on a cluster of two worker processes: seasons of `power`, studies of a calibration.

What the mechanism does when a worker is killed is tried with cheap tasks in
``tests/base/test_tasks.py``; here one of two is killed while it fits.
"""

import os
import signal
import threading
import time

import pandas as pd
import pytest
from real_cluster import running

from cohort.calibrate import Shape, Task, calibrate, collected
from cohort.power import Wish
from cohort.power.run import seasons

pytestmark = [pytest.mark.slow, pytest.mark.filterwarnings("ignore")]
pytest.importorskip("distributed", reason="the extra 'cluster' is not installed")
WISH = Wish(2, (1, 3), {"together": 2.0}, horizon=120)
SAME = ["seed", "foundings", "mean", "low", "high", "truth", "rhat"]


def killed_after_first(cluster, folder, pattern):
    """Kills a worker as soon as a first file is there, when both are at the next."""

    def wait_and_kill():
        until = time.monotonic() + 300
        while not list(folder.rglob(pattern)) and time.monotonic() < until:
            time.sleep(0.05)
        os.kill(cluster.workers[0].pid, signal.SIGKILL)

    killer = threading.Thread(target=wait_and_kill)
    killer.start()
    return killer


def test_seasons_of_a_cluster_are_those_of_one_machine(tmp_path):
    here = seasons(WISH, (16,), 4, tmp_path / "here")
    with running(tmp_path / "dask", 2) as cluster:
        killer = killed_after_first(cluster, tmp_path / "there", "season-*.json")
        there = seasons(WISH, (16,), 4, tmp_path / "there", scheduler=cluster.address)
        killer.join()
    pd.testing.assert_frame_equal(here[SAME], there[SAME])
    assert len(list((tmp_path / "there" / "foundings-16").iterdir())) == 4


def test_a_calibration_of_a_cluster_is_that_of_one_machine(tmp_path):
    task = Task(shape=Shape(most=16))
    calibrate(tmp_path / "here", range(1, 5), task)
    with running(tmp_path / "dask", 2, "--nanny") as cluster:  # workers as they are by themselves
        killer = killed_after_first(cluster, tmp_path / "there", "study-*.json")
        calibrate(tmp_path / "there", range(1, 5), task, scheduler=cluster.address)
        killer.join()
    pd.testing.assert_frame_equal(*(collected(tmp_path / way)[0] for way in ("here", "there")))
    assert len(list((tmp_path / "there").iterdir())) == 4
