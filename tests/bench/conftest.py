"""One table of everything timed: printed at the end, and kept in ``results.csv``.

Machines swing by a factor of two, so where there is a ratio both sides ran within this run, and
beside each row a fixed loop of plain Python says how fast the machine was just then. Run with
``pytest -n 0 -m bench``. What the columns are stands in ``README.md`` beside the table.

A run writes over the rows it measured and leaves the others with the day and machine they are of.
With ``COHORT_BENCH_SMALL=1`` the benches are tried at small sizes and nothing is kept.
"""

import csv
import os
import platform
import time
from pathlib import Path

import pytest

TABLE = Path(__file__).with_name("results.csv")
COLUMNS = (
    "what", "seconds", "per_second", "ratio", "measured", "date", "machine", "cores", "python",
    "loop_seconds", "load",
)  # fmt: skip
ROWS: list[dict[str, str]] = []


def fixed_loop():
    """Seconds of a fixed piece of plain Python: says how fast the machine is just now."""
    start = time.perf_counter()
    total = 0
    for i in range(5_000_000):
        total += i * i % 7
    return time.perf_counter() - start


def machine():
    """What this machine is, as far as it tells."""
    told = Path("/proc/cpuinfo")
    models = told.read_text().partition("model name")[2] if told.exists() else ""
    name = models.partition(":")[2].partition("\n")[0].strip()
    return f"{platform.system()} {platform.machine()} {name}".strip()


@pytest.fixture
def row():
    """Put a line into the table: what, measured, and a ratio and numbers where there are any."""

    def put(what, measured, ratio="", *, seconds=None, per_second=None):
        load = f"{os.getloadavg()[0]:.1f}" if hasattr(os, "getloadavg") else ""
        line = {
            "what": what,
            "seconds": "" if seconds is None else f"{seconds:.3g}",
            "per_second": "" if per_second is None else f"{per_second:.3g}",
            "ratio": ratio,
            "measured": measured,
            "date": time.strftime("%Y-%m-%d"),
            "machine": machine(),
            "cores": str(os.cpu_count()),
            "python": platform.python_version(),
            "loop_seconds": f"{fixed_loop():.2f}",
            "load": load,
        }
        assert tuple(line) == COLUMNS
        ROWS.append(line)

    return put


def kept(new, table=TABLE):
    """Rows of a table with new ones in place of those of the same name, in their order."""
    old = []
    if table.exists():
        with table.open(encoding="utf-8", newline="") as lines:
            old = list(csv.DictReader(lines))
    fresh = {line["what"]: line for line in new}
    rows = [fresh.pop(line["what"], line) for line in old]
    return [*rows, *fresh.values()]


def keep(new, table=TABLE):
    """Write them."""
    rows = kept(new, table)
    with table.open("w", encoding="utf-8", newline="") as out:
        writer = csv.DictWriter(out, COLUMNS, lineterminator="\n")
        writer.writeheader()
        writer.writerows(rows)


def pytest_terminal_summary(terminalreporter):
    if not ROWS:
        return
    small = bool(os.environ.get("COHORT_BENCH_SMALL"))
    wide, share = (max(len(line[name]) for line in ROWS) for name in ("what", "ratio"))
    loops = sorted(float(line["loop_seconds"]) for line in ROWS)
    terminalreporter.write_line(
        f"\n{machine()}, {os.cpu_count()} cores, Python {platform.python_version()}, "
        f"{time.strftime('%Y-%m-%d')}, fixed loop of 5 million steps {loops[0]:.2f} to "
        f"{loops[-1]:.2f} s"
    )
    for line in ROWS:
        terminalreporter.write_line(
            f"{line['what']:{wide}s}  {line['ratio']:>{share}s}  {line['measured']}"
        )
    if small:
        terminalreporter.write_line("Tried at small sizes: nothing is kept.")
        return
    keep(ROWS)
    terminalreporter.write_line(f"Kept in {TABLE}")
