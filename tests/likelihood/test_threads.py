"""Work spread over threads: all of it, whatever threads can be had."""

import os
import threading
import time

import numpy as np
import pytest

from cohort.likelihood.threads import in_parallel


def fill(first, last, out, by):
    for at in range(first, last):
        out[at] += 1
        by[at] = threading.get_ident()


@pytest.mark.parametrize("cores", [1, 2, 5])
@pytest.mark.parametrize("count", [0, 1, 3, 100])
def test_each_is_done_once(monkeypatch, cores, count):
    monkeypatch.setattr(os, "cpu_count", lambda: cores)
    out, by = np.zeros(count), np.zeros(count)
    in_parallel(fill, count, out, by)
    assert (out == 1).all()


def test_without_further_threads_it_is_done_in_this_one(monkeypatch):
    monkeypatch.setattr(os, "cpu_count", lambda: 4)

    def none(thread):
        raise RuntimeError("can't start new thread")

    monkeypatch.setattr(threading.Thread, "start", none)
    out, by = np.zeros(50), np.zeros(50)
    in_parallel(fill, 50, out, by)
    assert (out == 1).all()
    assert set(by) == {threading.get_ident()}


@pytest.mark.parametrize("fault", [ValueError, KeyboardInterrupt])
def test_broken_off_no_further_stretch_is_begun(monkeypatch, fault):
    monkeypatch.setattr(os, "cpu_count", lambda: 2)
    begun, before = [], threading.active_count()

    def part(first, last):
        begun.append(first)
        time.sleep(0.05)
        if threading.current_thread() is threading.main_thread():
            raise fault
        time.sleep(0.1)

    with pytest.raises(fault):
        in_parallel(part, 80)
    assert len(begun) <= 3  # of eight
    assert threading.active_count() <= before  # none is left behind
