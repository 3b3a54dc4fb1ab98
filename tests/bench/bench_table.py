"""The table of what was timed: columns, rows, and how a run writes over those it measured.

What the columns are stands in ``README.md`` beside the table.
"""

import csv
import os
import platform
import time
from pathlib import Path

TABLE = Path(__file__).with_name("results.csv")
COLUMNS = (
    "what", "seconds", "per_second", "ratio", "measured", "date", "machine", "cores", "python",
    "loop_seconds", "load",
)  # fmt: skip


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


def line(what, measured, ratio="", seconds=None, per_second=None):
    """One row, measured just now on this machine."""
    return {
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
        "load": f"{os.getloadavg()[0]:.1f}" if hasattr(os, "getloadavg") else "",
    }


def kept(new, table=TABLE):
    """Rows of a table with new ones in place of those of the same name, in their order."""
    old = []
    if table.exists():
        with table.open(encoding="utf-8", newline="") as lines:
            old = list(csv.DictReader(lines))
    fresh = {one["what"]: one for one in new}
    rows = [fresh.pop(one["what"], one) for one in old]
    return [*rows, *fresh.values()]


def keep(new, table=TABLE):
    """Write them."""
    rows = kept(new, table)
    with table.open("w", encoding="utf-8", newline="") as out:
        writer = csv.DictWriter(out, COLUMNS, lineterminator="\n")
        writer.writeheader()
        writer.writerows(rows)
