"""Tasks that leave a file each: none twice, none lost, each whole, whoever does them."""

import json
import os
import signal
import threading
import time
from functools import partial

import pytest
from real_cluster import running

from cohort.base import background, tasks
from cohort.base.errors import StudyError
from cohort.base.telling import Far, heard_by

distributed = pytest.importorskip("distributed", reason="the extra 'cluster' is not installed")
GONE = pytest.mark.filterwarnings("ignore")  # sockets of killed processes close as they please


def squared(number, nap=0.0):
    time.sleep(nap)
    return [number * number, os.getpid()]


def of(folder, count, nap=0.0):
    return {folder / f"{n:03d}.json": partial(squared, n, nap) for n in range(count)}


def held(folder):
    return {int(p.stem): json.loads(p.read_text()) for p in folder.glob("*.json")}


class Put:
    """Puts files, and knows which."""

    def __init__(self):
        self.places = []

    def __call__(self, place, values):
        self.places.append(place)
        tasks.put_json(place, values)


@pytest.fixture(scope="module")
def cluster(tmp_path_factory):
    with running(tmp_path_factory.mktemp("dask")) as here:
        yield here


@GONE
def test_a_killed_worker_loses_and_doubles_nothing(cluster, tmp_path):
    """One of two workers is killed half-way: every file is there, put once, and none is torn."""
    put, victim = Put(), cluster.workers[0].pid

    def kill_half_way():
        until = time.monotonic() + 30
        while time.monotonic() < until:  # once both have done some
            pids = [pid for _, pid in held(tmp_path).values()]
            if len(pids) > 10 and victim in pids:
                break
            time.sleep(0.02)
        os.kill(victim, signal.SIGKILL)

    killer = threading.Thread(target=kill_half_way)
    killer.start()
    tasks.finish(of(tmp_path, 40, 0.05), put, scheduler=cluster.address)
    killer.join()
    cluster.worker()
    found = held(tmp_path)
    assert {n: square for n, (square, _) in found.items()} == {n: n * n for n in range(40)}
    assert sorted(put.places) == sorted(of(tmp_path, 40))  # each once
    pids = [pid for _, pid in found.values()]
    assert len(set(pids)) == 2
    assert os.getpid() not in pids  # the work was theirs
    assert 0 < pids.count(victim) < 20  # it really was gone


def test_what_is_there_is_not_sent_to_a_cluster(cluster, tmp_path):
    tasks.finish(of(tmp_path, 3))
    put, heard = Put(), []
    with heard_by(heard.append):
        tasks.finish(of(tmp_path, 5), put, scheduler=cluster.address)
    assert [int(place.stem) for place in sorted(put.places)] == [3, 4]
    assert heard == [Far(4, 5), Far(5, 5)]
    here = {n for n, (_, pid) in held(tmp_path).items() if pid == os.getpid()}
    assert here == {0, 1, 2}


def test_a_task_writes_draws_as_it_would_here(cluster, tmp_path):
    """xarray takes a worker's scheduler for a lock, and the file is then refused."""

    def written():
        import xarray as xr

        return list(bytes(xr.Dataset({"a": ("x", [1.0, 2.0])}).to_netcdf(engine="h5netcdf"))[:4])

    tasks.finish({tmp_path / "000.json": written}, scheduler=cluster.address)
    assert held(tmp_path)[0] == list(b"\x89HDF")


def test_an_error_of_a_task_is_raised_and_what_was_done_stays(cluster, tmp_path):
    def refuse():
        time.sleep(0.3)
        raise StudyError("no founding is compared")

    work = of(tmp_path, 2) | {tmp_path / "002.json": refuse}
    with pytest.raises(StudyError, match="no founding is compared"):
        tasks.finish(work, scheduler=cluster.address)
    assert set(held(tmp_path)) == {0, 1}


def test_workers_with_other_code_are_refused(cluster, tmp_path, monkeypatch):
    monkeypatch.setattr(tasks, "code", lambda: "of last year")
    with pytest.raises(StudyError, match="A worker runs another version of this program"):
        tasks.finish(of(tmp_path, 1), scheduler=cluster.address)
    assert held(tmp_path) == {}


def test_studies_of_a_calibration_go_to_a_cluster(cluster, tmp_path):
    """With a stand-in for the fit; real ones in tests/power/test_cluster.py."""
    from cohort.calibrate.run import every, spread

    def ranks(seed):
        return {"seed": seed, "by": os.getpid()}

    spread(tmp_path, range(1, 4), ranks)
    spread(tmp_path, range(1, 6), ranks, scheduler=cluster.address)
    done = {one["seed"]: one["by"] == os.getpid() for one in every(tmp_path)}
    assert done == {1: True, 2: True, 3: True, 4: False, 5: False}


@GONE
def test_a_task_that_ends_its_workers_is_named(tmp_path_factory, tmp_path):
    """As one that wants more memory than there is; by itself a scheduler tries four workers."""

    def greedy():
        os.kill(os.getpid(), signal.SIGKILL)

    once = {"DASK_DISTRIBUTED__SCHEDULER__ALLOWED_FAILURES": "0"}
    with (
        running(tmp_path_factory.mktemp("dask"), 1, **once) as cluster,
        pytest.raises(StudyError, match=r"000\.json: one worker after the other was lost"),
    ):
        tasks.finish({tmp_path / "000.json": greedy}, scheduler=cluster.address)


def test_a_scheduler_without_workers_and_an_address_without_scheduler(
    tmp_path_factory, tmp_path, monkeypatch
):
    monkeypatch.setattr(tasks, "JOINS", 0.2)
    monkeypatch.setattr(tasks, "ANSWERS", 0.5)
    with (
        running(tmp_path_factory.mktemp("dask"), 0) as cluster,
        pytest.raises(StudyError, match=r"has no worker\. Start some"),
    ):
        tasks.finish(of(tmp_path, 1), scheduler=cluster.address)
    with pytest.raises(StudyError, match="No scheduler answers at"):
        tasks.finish(of(tmp_path, 1), scheduler="tcp://127.0.0.1:9")


def test_without_the_extra_it_is_said(tmp_path, monkeypatch):
    usual = tasks.importlib.import_module

    def lacking(name, *given):
        if name == "distributed":
            raise ImportError(name)
        return usual(name, *given)

    monkeypatch.setattr(tasks.importlib, "import_module", lacking)
    with pytest.raises(StudyError, match="needs the extra 'cluster'"):
        tasks.finish(of(tmp_path, 1), scheduler="tcp://127.0.0.1:9")
    tasks.finish(of(tmp_path, 1))
    assert set(held(tmp_path)) == {0}


def test_here_by_two_processes_and_by_one_the_files_are_the_same(tmp_path, monkeypatch):
    """Also after a second process was at work: joblib took its pool for one of its own."""
    monkeypatch.setattr(os, "cpu_count", lambda: 2)
    before = background.start(os.getpid).result()
    for jobs in (1, 2):
        tasks.finish(of(tmp_path / str(jobs), 6), jobs=jobs)
    one, two = (held(tmp_path / str(jobs)) for jobs in (1, 2))
    assert {n: v[0] for n, v in one.items()} == {n: v[0] for n, v in two.items()}
    assert {v[1] for v in one.values()} == {os.getpid()}
    assert not {os.getpid(), before} & {v[1] for v in two.values()}


def test_a_task_that_another_run_has_done_meanwhile_is_left_alone(tmp_path):
    work, put = of(tmp_path, 3), Put()

    def and_another_run_comes(place, values):
        put(place, values)
        if len(put.places) == 1:
            tasks.put_json(tmp_path / "001.json", [1, "theirs"])

    tasks.finish(work, and_another_run_comes)
    assert [place.stem for place in put.places] == ["000", "002"]
    assert held(tmp_path)[1] == [1, "theirs"]


def test_the_mark_of_the_code_changes_with_any_source(tmp_path, monkeypatch):
    tasks.code.cache_clear()
    before = tasks.code()
    monkeypatch.setattr(tasks, "__file__", str(tmp_path / "cohort" / "base" / "tasks.py"))
    (tmp_path / "cohort" / "base").mkdir(parents=True)
    source = tmp_path / "cohort" / "base" / "tasks.py"
    marks = [before]
    try:
        for text in ("a = 1\n", "a = 2\n"):
            source.write_text(text)
            tasks.code.cache_clear()
            marks.append(tasks.code())
    finally:
        tasks.code.cache_clear()
    assert len(set(marks)) == 3


@GONE
def test_a_scheduler_that_goes_is_told_and_what_was_done_stays(cluster, tmp_path):
    """The last of the file: it ends the scheduler of the others."""

    def then_it_goes(place, values):
        tasks.put_json(place, values)
        cluster.end_scheduler()

    with pytest.raises(StudyError, match=r"has gone. What was done is kept"):
        tasks.finish(of(tmp_path, 9, 0.1), then_it_goes, scheduler=cluster.address)
    assert 0 < len(held(tmp_path)) < 9
