"""Work in a second process: the same numbers, modules loaded ahead, an end without delay."""

import gc
import os
import signal
import subprocess
import sys
import time

import pytest

from cohort.base import background

LOADED = "'{}' in __import__('sys').modules"


@pytest.fixture(params=[1, 2])
def cores(request, monkeypatch):
    monkeypatch.setattr(os, "cpu_count", lambda: request.param)
    return request.param


def test_the_result_is_the_same_with_one_core_and_with_two(cores):
    assert background.start(divmod, 17, 5).result() == (3, 2)
    elsewhere = background.start(os.getpid).result() != os.getpid()
    assert elsewhere == (cores == 2)


def test_an_error_of_the_work_is_raised_where_its_result_is_asked_for(cores):
    later = background.start(divmod, 1, 0)
    with pytest.raises(ZeroDivisionError):
        later.result()


def test_work_not_begun_can_be_taken_back(cores):
    naps = [background.start(time.sleep, 0.1) for _ in range(9)]
    later = background.start(divmod, 17, 5)
    assert later.cancel()  # nine naps before it
    naps[0].result()
    assert not naps[0].cancel()
    assert naps[-1].cancel()


def test_what_is_gathered_is_in_order_wherever_it_was_made(cores):
    """The last pieces are done here, those before them there, and none twice."""
    begun = [background.start(pair, at) for at in range(12)]
    made = background.gathered(begun)
    assert [at for at, _ in made] == list(range(12))
    here = [process == os.getpid() for _, process in made]
    assert here[-1]
    assert all(here) if cores == 1 else (not here[0] and here == sorted(here))
    with pytest.raises(ZeroDivisionError):
        background.gathered([background.start(divmod, 1, 0)])


def pair(at):
    time.sleep(0.1)
    return at, os.getpid()


def test_the_other_process_is_seldom_swept(monkeypatch):
    monkeypatch.setattr(os, "cpu_count", lambda: 2)
    before = gc.get_threshold()
    assert background.start(gc.get_threshold).result() == background.SELDOM != before
    try:
        background.seldom_swept()
        assert gc.get_threshold() == background.SELDOM
    finally:
        gc.set_threshold(*before)


def test_a_process_that_grows_is_not_replaced(monkeypatch):
    """loky ends a worker that has grown by 300 MB, looking at most once a second."""
    pytest.importorskip("psutil", reason="loky measures its workers with psutil alone")
    monkeypatch.setattr(os, "cpu_count", lambda: 2)
    first = background.start(os.getpid).result(timeout=30)
    background.start(exec, "import builtins; builtins.kept = b'x' * 400_000_000").result(timeout=30)
    try:
        for _ in range(2):
            background.start(time.sleep, 1.1).result(timeout=30)
        assert background.start(os.getpid).result(timeout=30) == first
    finally:
        background.start(exec, "import builtins; vars(builtins).pop('kept', 0)").result(timeout=30)


def test_a_module_is_loaded_in_the_other_process(monkeypatch):
    monkeypatch.setattr(os, "cpu_count", lambda: 2)
    assert not background.start(eval, LOADED.format("wave")).result()
    background.made_ready("wave")  # a module of Python that nothing here needs
    assert background.start(eval, LOADED.format("wave")).result()


def test_leaving_spares_both_processes_the_last_search(monkeypatch):
    monkeypatch.setattr(os, "cpu_count", lambda: 2)
    background.start(int).result()
    before = gc.get_freeze_count()
    try:
        background.leave()
        assert gc.get_freeze_count() > before
        assert background.start(gc.get_freeze_count).result() > 0
    finally:
        gc.unfreeze()
        background.start(gc.unfreeze).result()


@pytest.mark.parametrize(
    "fault",
    [OSError(11, "Resource temporarily unavailable"), RuntimeError("can't start new thread")],
)
def test_where_no_second_process_can_be_had_the_work_is_done_here(monkeypatch, fault):
    monkeypatch.setattr(os, "cpu_count", lambda: 2)
    monkeypatch.setattr(background, "_now", {})
    asked = []

    def none():
        asked.append(1)
        raise fault

    monkeypatch.setattr(background, "_pool", lambda: none)
    begun = [background.start(pair, at) for at in range(3)]
    assert [later.result() for later in begun] == [(at, os.getpid()) for at in range(3)]
    assert len(asked) == 1  # not again for each piece


def test_work_of_a_process_that_was_ended_is_done_here(monkeypatch):
    monkeypatch.setattr(os, "cpu_count", lambda: 2)
    victim = background.start(os.getpid).result()
    later = background.start(slow, os.getpid())
    time.sleep(0.2)
    os.kill(victim, signal.SIGKILL)
    assert later.result(timeout=30) == os.getpid()
    assert background.start(os.getpid).result(timeout=30) not in (victim, os.getpid())


def slow(main):
    time.sleep(0 if os.getpid() == main else 30)
    return os.getpid()


def test_work_that_crashes_is_not_tried_here(monkeypatch):
    monkeypatch.setattr(os, "cpu_count", lambda: 2)
    with pytest.raises(ChildProcessError, match=r"broke off.*SIGSEGV"):
        background.start(os.kill, background.start(os.getpid).result(), signal.SIGSEGV).result(
            timeout=30
        )


def test_ended_it_is_gone_and_another_comes_when_asked(monkeypatch):
    monkeypatch.setattr(os, "cpu_count", lambda: 2)
    first = background.start(os.getpid).result()
    background.start(time.sleep, 60)
    began = time.monotonic()
    background.end()
    assert background.start(os.getpid).result(timeout=30) != first
    assert time.monotonic() - began < 30


def test_it_does_not_outlive_the_main_process():
    code = """
import os, time
os.cpu_count = lambda: 2
from cohort.base import background
print(background.start(os.getpid).result(), flush=True)
background.start(time.sleep, 600)
time.sleep(600)
"""
    run = subprocess.Popen(
        [sys.executable, "-c", code], stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True
    )
    other = int(run.stdout.readline())
    os.kill(other, 0)
    with run:
        run.kill()
        assert run.stdout.read() == ""  # nobody holds it any more
    until = time.monotonic() + 20
    while time.monotonic() < until:
        try:
            os.kill(other, 0)
        except ProcessLookupError:
            return
        time.sleep(0.1)
    pytest.fail("it is still there")


@pytest.mark.skipif(not hasattr(signal, "pthread_sigmask"), reason="no such signals here")
def test_the_other_process_hears_no_ctrl_c_from_its_first_moment(monkeypatch):
    """It would report what it was at; its parent hears it and says what is to be said."""
    code = """
import os, signal
os.cpu_count = lambda: 2
from cohort.base import background
print(background.start(signal.pthread_sigmask, signal.SIG_BLOCK, []).result() >= {2, 1})
print(signal.pthread_sigmask(signal.SIG_BLOCK, []))
"""
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.split("\n")[:2] == ["True", "set()"]


@pytest.mark.skipif(not hasattr(signal, "pthread_sigmask"), reason="no such signals here")
def test_what_is_asked_while_a_process_is_begun_waits_until_it_is_known(monkeypatch):
    monkeypatch.setattr(background, "_now", {})
    assert not background.put_off()
    known = []

    def begin():
        with background.unheard():
            assert background.put_off()
            known.append(True)

    with pytest.raises(KeyboardInterrupt):
        begin()
    assert known
    with background.unheard():
        pass  # said once
    assert not background.put_off()
