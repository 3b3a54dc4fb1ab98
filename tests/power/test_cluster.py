"""Replicates on a Dask cluster of two worker processes, one of which is killed half-way."""

import os
import signal
import threading
import time

import joblib
import pytest

from cohort.base.errors import StudyError
from cohort.power.run import workers


@pytest.mark.filterwarnings("ignore")  # the killed worker's sockets close as they please
def test_a_killed_worker_loses_and_doubles_nothing(tmp_path):
    distributed = pytest.importorskip("distributed", reason="the extra 'cluster' is not installed")

    def one(seed):  # a replicate as power and calibration make them: its own file, put in whole
        time.sleep(0.15)
        draft = tmp_path / f"{seed}.part-{os.getpid()}"
        draft.write_text(str(seed * seed))
        draft.replace(tmp_path / f"{seed}.txt")
        return seed, os.getpid()

    with distributed.LocalCluster(
        n_workers=2, threads_per_worker=1, processes=True, dashboard_address=None
    ) as cluster:
        victim = next(iter(cluster.workers.values())).process.pid

        def kill_half_way():
            while len(list(tmp_path.glob("*.txt"))) < 10:
                time.sleep(0.02)
            os.kill(victim, signal.SIGKILL)

        killer = threading.Thread(target=kill_half_way)
        with workers(cluster.scheduler_address):
            killer.start()
            got = joblib.Parallel(batch_size=1)(joblib.delayed(one)(s) for s in range(40))
        killer.join()
    assert [seed for seed, _ in got] == list(range(40))
    assert victim not in {pid for seed, pid in got if seed >= 35}  # it really was gone
    files = {int(p.stem): int(p.read_text()) for p in tmp_path.glob("*.txt")}
    assert files == {seed: seed * seed for seed in range(40)}


def test_nobody_at_the_address():
    pytest.importorskip("distributed", reason="the extra 'cluster' is not installed")
    with pytest.raises(StudyError, match="No scheduler answers"), workers("tcp://127.0.0.1:9"):
        pass
