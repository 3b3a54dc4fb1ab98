"""Time and memory for a study of 10,000 foundings and 1,000,000 checks (run with -m bench)."""

import subprocess
import sys
import time

import numpy as np
import pandas as pd
import pytest

FOUNDINGS, LOOKS = 10_000, 100


@pytest.mark.bench
def test_a_million_checks(tmp_path, row):
    rng = np.random.default_rng(1)
    ids = np.array([f"K{i // 250:02d}-{i % 250 + 1:03d}" for i in range(FOUNDINGS)])
    queens = rng.integers(1, 5, FOUNDINGS)
    lost = rng.integers(0, 4 * LOOKS, FOUNDINGS)  # look at which one queen is gone
    look = np.tile(np.arange(LOOKS), FOUNDINGS)
    pd.DataFrame(
        {
            "founding": np.repeat(ids, LOOKS),
            "date": (np.datetime64("2025-05-01") + 3 * look).astype(str),
            "queens_alive": np.repeat(queens, LOOKS) - (look >= np.repeat(lost, LOOKS)),
            "workers": np.maximum(look - 20, 0),
        }
    ).to_csv(tmp_path / "checks.csv", index=False)
    pd.DataFrame(
        {
            "founding": ids,
            "genus": rng.choice(["Lasius", "Messor"], FOUNDINGS),
            "started": "2025-05-01",
            "queens": queens,
            "keeper": [name[:3] for name in ids],
        }
    ).to_csv(tmp_path / "foundings.csv", index=False)
    # ru_maxrss starts at what the parent held when it forked, which may be a large fit; Linux
    # also keeps the high-water mark of the process's own memory
    script = (
        "import sys, resource, pathlib; from cohort.study import read_study; "
        "study = read_study(sys.argv[1]); assert len(study.checks) == 1_000_000; "
        "own = pathlib.Path('/proc/self/status'); "
        "print(own.read_text().split('VmHWM:')[1].split()[0] if own.exists() "
        "else resource.getrusage(resource.RUSAGE_SELF).ru_maxrss)"
    )
    began = time.perf_counter()
    done = subprocess.run(
        [sys.executable, "-c", script, str(tmp_path)], capture_output=True, text=True, check=True
    )
    took = time.perf_counter() - began
    size = int(done.stdout) * (1 if sys.platform == "darwin" else 1024)
    row(
        "1,000,000 checks of 10,000 foundings read, audited and typed",
        f"{took:.1f} s ({1e6 / took:,.0f} checks per second), {size / 1e9:.2f} GB",
        seconds=took,
    )
    assert took < 12  # about 3 s on a quiet machine of two cores
    assert size < 1.2e9


@pytest.mark.bench
@pytest.mark.parametrize("every", [[], ["--every"]], ids=["grouped", "every"])
def test_a_million_bad_rows(tmp_path, row, every):
    ids = [f"K{i // 100:02d}-{i % 100:02d}" for i in range(2000)]
    (tmp_path / "foundings.csv").write_text(
        "founding,genus,started,queens\n" + "".join(f"{n},Lasius,2025-05-01,3\n" for n in ids)
    )
    days = (np.datetime64("2025-05-02") + np.arange(500)).astype(str)
    (tmp_path / "checks.csv").write_text(
        "founding,date,queens_alive,workers\n"
        + "".join(f"{name},{day},x,0\n" for day in days for name in ids)
    )
    # as above: what the process itself held at most, and the computing of it
    script = (
        "import sys, time, resource, pathlib; from cohort.cli import main\n"
        "try: main(sys.argv[1:])\n"
        "except SystemExit as stopped: assert stopped.code == 1\n"
        "own = pathlib.Path('/proc/self/status')\n"
        "held = (own.read_text().split('VmHWM:')[1].split()[0] if own.exists() "
        "else resource.getrusage(resource.RUSAGE_SELF).ru_maxrss)\n"
        "print(time.process_time(), held, file=sys.stderr)"
    )
    words = ["audit", str(tmp_path), "--today", "2027-09-01", *every]
    with (tmp_path / "out").open("wb") as out:
        done = subprocess.run(
            [sys.executable, "-c", script, *words],
            stdout=out,
            stderr=subprocess.PIPE,
            text=True,
            check=True,
        )
    took, held = map(float, done.stderr.split())
    size = held * (1 if sys.platform == "darwin" else 1024)
    row(
        f"1,000,000 bad rows audited {' '.join(every) or 'and grouped'}",
        f"{took:.1f} s of computing, {size / 1e9:.2f} GB",
        seconds=took,
    )
    assert took < 40  # about 10 s (grouped: 5 s) on a quiet machine of two cores
    assert size < 1.2e9
