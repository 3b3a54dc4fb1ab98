"""A command told to stop: soon gone with all it began, one closing line, its own exit code."""

import json
import os
import select
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from cohort.simulate.season import Design, simulate_study
from cohort.simulate.truth import draw_truth

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="Windows sends no such signals")

COHORT = Path(sys.executable).with_name("cohort")
LONG = 600
"""Seconds for a command to come to where it is stopped: other tests run beside."""
SOON = 10
"""Seconds in which all must have gone; 3 on a machine that does nothing else."""
FRAME = """
import sys, time
sys.argv = ["cohort"]
from cohort.base import background
from cohort import cli
from cohort.cli import stop
def main():
    print("begun", file=sys.stderr, flush=True)
{body}
cli.main = main
cli.command()
"""


@pytest.fixture(scope="module")
def study(tmp_path_factory):
    import numpy as np

    truth = draw_truth(("Lasius", "Messor"), np.random.default_rng(3))
    made = simulate_study(Design(foundings=16), truth, 3)
    return made.write(tmp_path_factory.mktemp("stop") / "study")


def running(mark):
    """Processes that bear a mark in their environment, those that only wait to be buried aside."""
    found = []
    for place in Path("/proc").glob("[0-9]*"):
        try:
            if mark.encode() not in (place / "environ").read_bytes():
                continue
            if (place / "stat").read_text().rpartition(")")[2].split()[0] != "Z":
                found.append(int(place.name))
        except OSError:
            continue
    return found


def _hearing():
    """As started from a terminal: the tests themselves may run where Ctrl-C is ignored."""
    for number in (signal.SIGINT, signal.SIGTERM, signal.SIGHUP):
        signal.signal(number, signal.SIG_DFL)


def stopped(words, cue, number, *, again=0, whole_group=True, tmp=None, when=lambda: True):
    """Run words, signal when a cue is said and a thing is so; exit code, what was said after it."""
    mark = f"COHORT_TEST_{os.getpid()}_{time.monotonic_ns()}"
    env = os.environ | {"COHORT_MARK": mark} | ({"TMPDIR": str(tmp)} if tmp else {})
    run = subprocess.Popen(
        [str(word) for word in words],
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        env=env,
        start_new_session=True,
        preexec_fn=_hearing,
    )
    try:
        said = heard(run, cue, LONG)
        assert cue in said, said
        if not said.partition(cue)[2].endswith("\n"):
            said += heard(run, "\n", LONG)
        until = time.monotonic() + LONG
        while not when() and time.monotonic() < until:
            time.sleep(0.02)
        assert when()
        for _ in range(1 + again):
            if whole_group:
                os.killpg(run.pid, number)  # as a terminal does
            else:
                os.kill(run.pid, number)
            time.sleep(0.05)
        after = said.partition(cue)[2] + heard(run, None, SOON)
        code = run.wait(SOON)
        if Path("/proc/self/environ").exists():
            until = time.monotonic() + 2
            while running(mark) and time.monotonic() < until:
                time.sleep(0.05)
            assert not running(mark)
        return code, after
    finally:
        if run.poll() is None:
            os.killpg(run.pid, signal.SIGKILL)
        run.stdout.close()
        run.wait()


def heard(run, cue, seconds):
    """What a run says until a cue, or until nobody holds its output any more."""
    text, until = "", time.monotonic() + seconds
    while (left := until - time.monotonic()) > 0:
        if not select.select([run.stdout], [], [], left)[0]:
            break
        got = os.read(run.stdout.fileno(), 65536).decode()
        text += got
        if not got or (cue and cue in text):
            return text
    assert cue, f"after {seconds} s someone still holds the output: {text}"
    return text


def closing(said):
    """The lines that are not progress."""
    return [line for line in said.splitlines() if line and not line.endswith("...")]


STAGES = ("Reading the sheets", "Fitting", "Working out")
TOLD = (signal.SIGHUP, signal.SIGTERM, signal.SIGINT)
STOPS = [  # every stage and every signal once; the other pairs are slow
    pytest.param(cue, number, marks=[] if i == j else pytest.mark.slow)
    for i, cue in enumerate(STAGES)
    for j, number in enumerate(TOLD)
]


@pytest.mark.parametrize(("cue", "number"), STOPS)
def test_a_comparison_that_is_stopped_leaves_nothing(study, tmp_path, cue, number):
    out = tmp_path / "out"
    code, said = stopped([COHORT, "compare", study, "--out", out], cue, number)
    assert code == 128 + number
    assert closing(said) == ["Stopped. Nothing was written."]
    assert not out.exists()


def test_results_of_before_are_told_of(study, tmp_path):
    out = tmp_path / "out"
    out.mkdir()
    before = json.dumps({"versions": {"founding-cohort": "of before"}})
    (out / "run.json").write_text(before)
    words = [COHORT, "newsletter", study, "--out", out]
    code, said = stopped(words, "Drawing the curves", signal.SIGINT)
    assert code == 130
    line = f"Stopped. Nothing was written. The results in {out} are those of before."
    assert closing(said) == [line]
    assert (out / "run.json").read_text() == before


def season_in(folder):
    """Whether a season was done and its file lies in a folder."""
    return any(folder.rglob("season-*.json"))


@pytest.mark.slow  # half a minute of waiting
def test_seasons_that_were_done_are_kept_and_none_comes_after(tmp_path):
    out, tmp = tmp_path / "out", tmp_path / "tmp"
    tmp.mkdir()
    words = [COHORT, "power", "--foundings", "12", "--genera", "2", "--seasons", "9"]
    cue = "Simulating and comparing 9 seasons"
    code, said = stopped(
        [*words, "--jobs", "2", "--out", out], cue, signal.SIGINT, when=lambda: season_in(out)
    )
    assert code == 130
    assert closing(said) == [
        f"Stopped. The seasons done so far lie in {out}; the same command goes on from there."
    ]
    assert season_in(out)
    code, said = stopped(
        [*words, "--jobs", "2"], cue, signal.SIGTERM, tmp=tmp, when=lambda: season_in(tmp)
    )
    assert code == 143
    assert "Nothing was written" in said
    time.sleep(1)
    assert list(tmp.iterdir()) == []  # nothing writes into a folder that was cleared away


STUCK = {
    "it swallows Ctrl-C": """
    while True:
        try:
            time.sleep(60)
        except KeyboardInterrupt:
            pass
""",
    "code that is not Python": """
    import ctypes
    ctypes.CDLL(None).usleep(20_000_000)
    ctypes.CDLL(None).usleep(20_000_000)
""",
    "the other process works": """
    background.start(time.sleep, 60).result()
""",
    "it ends while stopped": """
    try:
        time.sleep(60)
    except KeyboardInterrupt:
        raise SystemExit(0)
""",
}


@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM])
@pytest.mark.parametrize("body", STUCK.values(), ids=STUCK.keys())
def test_work_that_does_not_listen_is_ended(body, number):
    words = [sys.executable, "-c", FRAME.format(body=body)]
    code, said = stopped(words, "begun", number)
    assert code == 128 + number
    assert closing(said) == ["Stopped. It was not finished."]


def test_a_second_ctrl_c_changes_nothing():
    body = """
    try:
        print("waiting", file=sys.stderr, flush=True)
        time.sleep(60)
    except KeyboardInterrupt:
        time.sleep(.4)
        print("cleared away", flush=True)
        raise
"""
    words = [sys.executable, "-c", FRAME.format(body=body)]
    code, said = stopped(words, "waiting", signal.SIGINT, again=4)
    assert code == 130
    assert closing(said) == ["cleared away", "Stopped. It was not finished."]


def test_who_is_not_to_hear_is_not_told(tmp_path):
    """Under nohup, and where a shell runs it beside, a signal is ignored from the start."""
    body = """
    time.sleep(1)
    print("finished")
"""
    script = FRAME.format(body=body)
    ignore = f"import signal; signal.signal(signal.SIGHUP, signal.SIG_IGN)\n{script}"
    code, said = stopped([sys.executable, "-c", ignore], "begun", signal.SIGHUP)
    assert (code, closing(said)) == (0, ["finished"])


@pytest.mark.slow  # half a minute of waiting
def test_a_script_gets_its_keyboard_interrupt(study):
    """Only the command ends by itself; and a script need not wait for the other process."""
    script = f"""
import sys, cohort
from cohort.base import background
import time
from cohort.comparison import compare
from cohort.study import read_study
compare(read_study({str(study)!r}))  # warm: numba broken off as it compiles writes tracebacks
background.start(time.sleep, 60)
try:
    compare(read_study({str(study)!r}), say=lambda what: print(what, file=sys.stderr, flush=True))
except KeyboardInterrupt:
    print("mine", flush=True)
"""
    words = [sys.executable, "-c", script]
    code, said = stopped(words, "Fitting", signal.SIGINT)
    assert code == 0
    assert "mine" in said.splitlines()  # who clears away behind the pool may warn after it
    assert "Traceback" not in said
    assert "Stopped" not in said


SLOW_LIBRARY = """
import os, signal, sys, time
from cohort.cli import stop
stop.listen()
sys.path.insert(0, {place!r})
import slow_to_load  # the signal comes while this is loaded
print("loaded", flush=True)
time.sleep(5)
"""


def test_a_library_that_is_being_loaded_is_loaded_first(tmp_path):
    # Fault: pandas, broken off in the middle of its own loading, brought the process down.
    (tmp_path / "slow_to_load.py").write_text(
        "import os, signal, time\n"
        "os.kill(os.getpid(), signal.SIGTERM)\n"
        "time.sleep(0.3)\n"
        "whole = True\n"
    )
    script = "try:\n" + "\n".join(
        f"    {line}" for line in SLOW_LIBRARY.format(place=str(tmp_path)).splitlines()
    )
    script += "\nfinally:\n    stop.end_if_asked()\n"
    done = subprocess.run(
        [sys.executable, "-c", script], capture_output=True, text=True, check=False, timeout=60
    )
    assert done.returncode == 128 + signal.SIGTERM
    assert closing(done.stderr) == ["Stopped. It was not finished."]
    assert done.stdout == "loaded\n"
