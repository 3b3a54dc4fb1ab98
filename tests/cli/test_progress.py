"""What a person sees while long work runs: a bar, plain lines, or nothing."""

from __future__ import annotations

import contextlib
import io
import os
import pty
import re
import sys
import threading

import pytest

from cohort.base import background, telling
from cohort.base.telling import Chain, Far, counted, heard_by
from cohort.cli import progress as shown
from cohort.cli.progress import Clock, chains, progress, span
from cohort.likelihood.threads import in_parallel
from cohort.model.nuts import _telling


class Hands:
    """A clock that stands still until it is moved."""

    def __init__(self):
        self.at = 0.0

    def __call__(self):
        return self.at


# --- how far, by whoever knows ------------------------------------------------------------------


def test_nobody_need_listen():
    assert telling.listener() is None
    assert list(counted(iter("ab"), 2)) == ["a", "b"]


def test_parts_are_counted_with_those_done_before():
    heard = []
    with heard_by(heard.append):
        assert list(counted(iter("ab"), 5, before=3)) == ["a", "b"]
    assert heard == [Far(4, 5), Far(5, 5)]


def test_a_round_that_is_counted_keeps_its_own_parts_to_itself():
    heard = []
    with heard_by(heard.append):
        for _ in counted(iter("ab"), 2):
            with heard_by(None):
                assert list(counted(iter("xyz"), 3)) == ["x", "y", "z"]
    assert heard == [Far(1, 2), Far(2, 2)]


def test_a_loop_on_all_cores_tells_every_stretch_from_any_thread():
    heard = []
    with heard_by(heard.append):
        in_parallel(lambda first, last: None, 64)
    assert heard
    assert heard[-1].done == heard[-1].of == len(heard)
    quiet = []
    in_parallel(lambda first, last: quiet.append(telling.listener()), 8)
    assert set(quiet) == {None}


def test_work_that_is_gathered_is_told_piece_by_piece():
    heard = []
    pieces = [background.when_asked(lambda k=k: k * k) for k in range(3)]
    with heard_by(heard.append):
        assert background.gathered(pieces) == [0, 1, 4]
    assert heard == [Far(1, 3), Far(2, 3), Far(3, 3)]
    assert background.gathered([background.when_asked(lambda: 7)]) == [7]


def test_chains_of_a_fit_are_told_with_their_divergences():
    class Walk:
        def __init__(self, done, divergent):
            self.finished_draws, self.total_draws, self.divergences = done, 100, divergent

    assert _telling() is None  # nobody listens: nutpie is given no callback
    heard = []
    with heard_by(heard.append):
        tell = _telling()
    tell([Walk(10, 0), Walk(30, 2)])
    assert heard == [Far(40, 200, (Chain(10, 100, 0), Chain(30, 100, 2)))]
    assert chains(heard[0]) == [
        "chain 1: 10 of 100 draws, 0 divergent",
        "chain 2: 30 of 100 draws, 2 divergent",
    ]


# --- time left ----------------------------------------------------------------------------------


def test_time_left_is_told_by_the_pace_since_the_first_part():
    hands = Hands()
    clock = Clock(hands)
    clock.begin("Fitting")
    hands.at = 60.0  # machine code is made meanwhile: no part of the pace
    clock.heard(Far(0, 100))
    assert clock.left is None
    assert clock.words() == "60 s so far"
    hands.at = 70.0
    clock.heard(Far(20, 100))
    assert clock.left == pytest.approx(40.0)  # 20 in 10 s, 80 are left
    assert clock.words() == "about 40 s left"
    hands.at = 85.0  # nothing new for 15 s: the time runs down, and never below nought
    assert clock.left == pytest.approx(25.0)
    hands.at = 200.0
    assert clock.left == 0.0
    clock.heard(Far(100, 100))  # what comes after the last part is not known
    assert clock.left is None
    clock.begin("Next")
    assert clock.left is None
    assert clock.words() == ""


def test_a_short_loop_inside_a_long_stage_gets_no_bar():
    hands = Hands()
    clock = Clock(hands)
    clock.begin("Working out")
    hands.at = 10.0
    clock.heard(Far(1, 8))
    hands.at = 10.1
    clock.heard(Far(4, 8))
    assert clock.left is None
    assert clock.words() == "10 s so far"


def test_another_loop_of_the_same_stage_begins_anew():
    hands = Hands()
    clock = Clock(hands)
    clock.begin("Working out")
    for at, done in ((1.0, 1), (9.0, 8), (10.0, 1), (20.0, 3)):
        hands.at = at
        clock.heard(Far(done, 8))
    assert clock.left == pytest.approx(25.0)  # two parts in 10 s, five are left


@pytest.mark.parametrize(
    ("seconds", "told"),
    [(0.2, "1 s"), (40, "40 s"), (99.6, "2 min"), (1200, "20 min"), (4800, "1 h 20 min")],
)
def test_a_span_is_told_in_one_unit_or_two(seconds, told):
    assert span(seconds) == told


# --- what is printed ----------------------------------------------------------------------------


def test_without_a_terminal_a_line_for_each_stage(capsys):
    with progress() as tell:
        tell("Reading")
        tell("Fitting")
    assert capsys.readouterr() == ("", "Reading ...\nFitting ...\n")


def test_short_work_tells_no_stage_without_a_terminal(capsys):
    with progress(short=True) as tell:
        tell("Reading")
        tell.note("Something that stays.")
    assert capsys.readouterr().err == "Something that stays.\n"


def test_quiet_is_quiet_and_hears_nothing(capsys):
    with progress(True) as tell:
        tell("Reading")
        tell.note("Something.")
        assert telling.listener() is None
    assert capsys.readouterr() == ("", "")


def test_a_long_stage_tells_plainly_how_far_it_is_now_and_then(capsys, monkeypatch):
    hands = Hands()
    monkeypatch.setattr(shown, "Clock", lambda: Clock(hands))
    with progress() as tell:
        tell("Simulating")
        for at in range(0, 101, 10):
            hands.at = float(at)
            telling.listener()(Far(at, 100))
    assert capsys.readouterr().err.splitlines() == [
        "Simulating ...",
        "Simulating: 30 of 100, about 70 s left ...",
        "Simulating: 60 of 100, about 40 s left ...",
        "Simulating: 90 of 100, about 10 s left ...",
    ]


def screen(monkeypatch, hands, **settings):
    """What a terminal of 80 columns is sent while a fit runs."""
    for name, value in {"TERM": "xterm-256color", "COLUMNS": "80", **settings}.items():
        monkeypatch.setenv(name, value)
    master, slave = pty.openpty()
    got = io.BytesIO()

    def read():
        with contextlib.suppress(OSError):
            while part := os.read(master, 4096):
                got.write(part)

    reader = threading.Thread(target=read)
    reader.start()
    with os.fdopen(slave, "w") as terminal:
        monkeypatch.setattr(sys, "stderr", terminal)
        monkeypatch.setattr(shown, "Clock", lambda: Clock(hands))
        with progress() as tell:
            tell("Fitting 73 foundings of 11 kinds")
            telling.listener()(Far(0, 7200))
            hands.at = 30.0
            four = tuple(Chain(900, 1800, divergent) for divergent in (0, 0, 2, 0))
            telling.listener()(Far(3600, 7200, four))
    reader.join(5)
    os.close(master)
    return got.getvalue().decode()


def test_on_a_terminal_a_bar_with_time_left_and_chains(monkeypatch):
    told = screen(monkeypatch, Hands())
    for said in ("Fitting 73 foundings of 11 kinds", "about 30 s left", "50 %", "━",
                 "chain 3: 900 of 1,800 draws, 2 divergent"):  # fmt: skip
        assert said in told, said
    plain = re.sub(r"\x1b\[[0-9;?]*[a-zA-Z]", "", told)
    assert max(len(line) for line in re.split(r"[\r\n]+", plain)) <= 80


def test_no_colour_where_none_is_wanted(monkeypatch):
    colour = re.compile(r"\x1b\[[0-9;]*3[0-9][0-9;]*m")
    assert colour.search(screen(monkeypatch, Hands()))
    assert not colour.search(screen(monkeypatch, Hands(), NO_COLOR="1"))


def test_a_terminal_that_cannot_draw_anew_gets_plain_lines(monkeypatch):
    told = screen(monkeypatch, Hands(), TERM="dumb")
    assert "\x1b" not in told
    assert "Fitting 73 foundings of 11 kinds ..." in told


# --- the first run ------------------------------------------------------------------------------


def test_the_first_run_says_once_that_machine_code_is_made(monkeypatch, tmp_path, capsys):
    from cohort.likelihood import machine_code

    monkeypatch.setattr(machine_code, "places", lambda name: iter([tmp_path / name]))
    assert not machine_code.is_kept()
    with progress() as tell:
        shown.told_of_first_run(tell)
    assert capsys.readouterr().err == f"{shown.FIRST_RUN}\n"
    kept = machine_code.Kept(machine_code._folder(machine_code.digest_of()))
    kept.put(f"any{machine_code.ENDING}", b"code")
    assert machine_code.is_kept()
    with progress() as tell:
        shown.told_of_first_run(tell)
    assert capsys.readouterr().err == ""
