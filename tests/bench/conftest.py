"""One table of everything timed, printed at the end: ratios first, the machine named.

Machines swing by a factor of two, so where there is a ratio both sides ran within this run, and a
fixed loop of plain Python says how fast the machine was. Run with ``pytest -n 0 -m bench``.
"""

import os
import platform
import time

import pytest

ROWS: list[tuple[str, str, str]] = []


def fixed_loop():
    """Seconds of a fixed piece of plain Python: says how fast the machine is today."""
    start = time.perf_counter()
    total = 0
    for i in range(5_000_000):
        total += i * i % 7
    return time.perf_counter() - start


@pytest.fixture
def row():
    """Put a line into the table: what, measured, and a ratio where there is one."""

    def put(what, measured, ratio=""):
        ROWS.append((what, ratio, measured))

    return put


def pytest_terminal_summary(terminalreporter):
    if not ROWS:
        return
    wide, share = (max(len(line[i]) for line in ROWS) for i in (0, 1))
    terminalreporter.write_line(
        f"\n{platform.system()} {platform.machine()}, {os.cpu_count()} cores, Python "
        f"{platform.python_version()}, {time.strftime('%Y-%m-%d')}, fixed loop of 5 million steps "
        f"{fixed_loop():.2f} s"
    )
    for what, ratio, measured in ROWS:
        terminalreporter.write_line(f"{what:{wide}s}  {ratio:>{share}s}  {measured}")
