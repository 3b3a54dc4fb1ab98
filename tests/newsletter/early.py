"""Studies of the first days, and those in which something never happened."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import Final

FIRST: Final = dt.date(2025, 6, 1)
TODAY: Final = dt.date(2026, 2, 1)
SETTINGS: Final = 'title = "Early"\nseason = "2025"\nhorizon_days = 160\nends = 2025-12-31\n'
HEAD: Final = {
    "foundings": "founding,genus,started,queens,keeper",
    "checks": "founding,date,queens_alive,workers",
    "events": "founding,date,event,number,other",
    "catches": "catch,date,genus,queens,method",
    "temperatures": "shelf,date,min_c,max_c",
    "kinds": "kind,genus",
}
Rows = list[tuple[object, ...]]


def day(number: int) -> str:
    return (FIRST + dt.timedelta(days=number)).isoformat()


def found(*queens: int) -> Rows:
    return [(f"K1-{i:02d}", "Lasius", day(0), q, "K1") for i, q in enumerate(queens, 1)]


def looks(foundings: Rows, *seen: tuple[int, float, int]) -> Rows:
    """Looks (day, share of queens alive, workers) of each founding."""
    return [(f[0], day(d), int(f[3] * share), workers)
            for f in foundings for d, share, workers in seen]  # fmt: skip


MIXED: Final = found(1, 1, 3, 3)
WITH_WORKERS: Final = ((14, 1.0, 0), (40, 1.0, 0), (60, 1.0, 3), (160, 1.0, 10))
EMPTY: Final[Rows] = []
STUDIES: Final[dict[str, dict[str, Rows]]] = {
    "checks absent": {"foundings": MIXED},
    "checks with headings only": {"foundings": MIXED, "checks": EMPTY},
    "every sheet with headings only": {
        "foundings": MIXED, "checks": EMPTY, "events": EMPTY, "catches": EMPTY,
        "temperatures": EMPTY, "kinds": EMPTY,
    },
    "one row": {"foundings": MIXED, "checks": looks(MIXED[:1], (4, 1.0, 0))},
    "one founding": {"foundings": found(1), "checks": looks(found(1), *WITH_WORKERS)},
    "one founding, no look": {"foundings": found(1), "checks": EMPTY},
    "all single": {"foundings": found(1, 1, 1), "checks": looks(found(1, 1, 1), *WITH_WORKERS)},
    "all multi": {"foundings": found(3, 2, 3), "checks": looks(found(3, 2, 3), *WITH_WORKERS)},
    "all dead at the first look": {"foundings": MIXED, "checks": looks(MIXED, (5, 0.0, 0))},
    "no workers yet": {"foundings": MIXED, "checks": looks(MIXED, (7, 1.0, 0), (14, 1.0, 0))},
    "all ended on day 1": {
        "foundings": MIXED,
        "checks": looks(MIXED, (1, 1.0, 0)),
        "events": [(f[0], day(1), "end", "", "given") for f in MIXED],
    },
    "looked at on day 0 only": {"foundings": MIXED, "checks": looks(MIXED, (0, 1.0, 0))},
    "no count of queens": {
        "foundings": MIXED, "checks": [(f[0], day(9), "", 0) for f in MIXED]
    },
    "workers at the only look": {"foundings": MIXED, "checks": looks(MIXED, (50, 1.0, 4))},
    "all left out": {
        "foundings": [(*f, "mites") for f in MIXED], "checks": looks(MIXED, *WITH_WORKERS)
    },
}  # fmt: skip


def write_study(sheets: dict[str, Rows], folder: Path) -> Path:
    """Write the sheets of a study as CSV files."""
    folder.mkdir(parents=True)
    (folder / "study.toml").write_text(SETTINGS, "utf-8")
    for name, rows in sheets.items():
        head = HEAD[name]
        if any(len(row) > len(head.split(",")) for row in rows):
            head += ",left_out"
        lines = [head, *(",".join(map(str, row)) for row in rows)]
        (folder / f"{name}.csv").write_text("\n".join(lines) + "\n", "utf-8")
    return folder


def material_of(sheets: dict[str, Rows], folder: Path):
    """What the page is made from, for a study that nothing can be fitted to."""
    from cohort.comparison import compare
    from cohort.figures.material import Material
    from cohort.study import read_study

    made = compare(read_study(write_study(sheets, folder), today=TODAY))
    return Material(made.results, made.history, made.study)
