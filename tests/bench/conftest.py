"""One table of everything timed: printed at the end, and kept in ``results.csv``.

Machines swing by a factor of two, so where there is a ratio both sides ran within this run, and
beside each row a fixed loop of plain Python says how fast the machine was just then. Run with
``pytest -n 0 -m bench``. What the columns are stands in ``README.md`` beside the table.

A run writes over the rows it measured and leaves the others with the day and machine they are of.
With ``COHORT_BENCH_SMALL=1`` the benches are tried at small sizes and nothing is kept.
"""

import os
import platform
import time

import pytest
from bench_table import TABLE, keep, line, machine

ROWS: list[dict[str, str]] = []


@pytest.fixture
def row():
    """Put a line into the table: what, measured, and a ratio and numbers where there are any."""

    def put(what, measured, ratio="", **numbers):
        ROWS.append(line(what, measured, ratio, **numbers))

    return put


def pytest_terminal_summary(terminalreporter):
    if not ROWS:
        return
    small = bool(os.environ.get("COHORT_BENCH_SMALL"))
    wide, share = (max(len(one[name]) for one in ROWS) for name in ("what", "ratio"))
    loops = sorted(float(one["loop_seconds"]) for one in ROWS)
    terminalreporter.write_line(
        f"\n{machine()}, {os.cpu_count()} cores, Python {platform.python_version()}, "
        f"{time.strftime('%Y-%m-%d')}, fixed loop of 5 million steps {loops[0]:.2f} to "
        f"{loops[-1]:.2f} s"
    )
    for one in ROWS:
        terminalreporter.write_line(
            f"{one['what']:{wide}s}  {one['ratio']:>{share}s}  {one['measured']}"
        )
    if small:
        terminalreporter.write_line("Tried at small sizes: nothing is kept.")
        return
    keep(ROWS)
    terminalreporter.write_line(f"Kept in {TABLE}")
