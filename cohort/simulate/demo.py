"""``data/demo`` and ``data/demo-second-year``, made anew byte for byte from a recorded seed.

In: the invented club of :mod:`cohort.simulate.club`, its season, and the year that followed.
Out: file name -> text, and the folder.
Never: writes a number with more digits than a keeper would, or anything that depends on the
machine.
"""

from __future__ import annotations

import csv
import datetime as dt
import io
import math
from collections.abc import Iterable, Sequence
from pathlib import Path

import numpy as np

from cohort.base.errors import StudyError
from cohort.simulate.club import KINDS, SEED, WINTER
from cohort.simulate.club_season import OWN_WORDS, Row, begun, season
from cohort.simulate.club_years import FIRST, SECOND, Year

__all__ = ["demo_files", "write_demo"]

FOUNDING_COLUMNS = (
    "founding",
    "genus",
    "kind",
    "species",
    "started",
    "queens",
    "left_out",
    "assigned",
    "block",
    "keeper",
    "catch",
    "from",
    "flight_date",
    "followed_from",
    "housing",
    "feeding",
    "shelf",
    "mating_seen",
    "marked",
    "give_or_take",
    "note",
)
CHECK_COLUMNS = (
    "founding",
    "date",
    "queens_alive",
    "workers",
    "brood",
    "fed",
    "give_or_take",
    "note",
)
EVENT_COLUMNS = ("founding", "date", "event", "number", "other", "note")
CATCH_COLUMNS = (
    "catch",
    "date",
    "kind",
    "genus",
    "queens",
    "method",
    "keeper",
    "place",
    "not_kept",
    "not_kept_why",
    "died",
)


def _csv(columns: Sequence[str], rows: Iterable[Row], *, drop_empty: bool = True) -> str:
    """Text of a sheet; a column that nobody filled in is not there."""
    rows = list(rows)
    used = [c for c in columns if not drop_empty or any(row.get(c) for row in rows)]
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(used)
    writer.writerows([row.get(column, "") for column in used] for row in rows)
    return out.getvalue()


def _notes(checks: Sequence[Row], events: Sequence[Row]) -> str:
    """Check notes as typed on a phone: a day, then a line for each founding named."""
    lines: list[str] = []
    for day in sorted({row["date"] for row in checks}):
        lines += ["", day] if lines else [day]
        for row in (r for r in checks if r["date"] == day):
            if row["founding"] == "rest":
                lines.append("rest same")
                continue
            words = [row["founding"], row["queens_alive"], row["workers"]]
            own = (e for e in events if (e["founding"], e["date"]) == (row["founding"], day))
            words += [
                " ".join(filter(None, (e["event"], e["number"], e["other"], e["note"])))
                for e in own
            ]
            lines.append(" ".join(words))
    return "\n".join(lines) + "\n"


def _temperatures() -> str:
    """Shelf S1 read every day, S2 once a week; warm until winter, then cold."""
    rng = np.random.default_rng([SEED, 9])
    rows = []
    for shelf, keeper, step, warm in (("S1", "K1", 1, 25.0), ("S2", "K2", 7, 23.5)):
        cold, end = (dt.date.fromisoformat(d) for d in WINTER[keeper])
        day = dt.date(2025, 5, 11)
        while day <= FIRST.last_day:
            season = math.sin(2 * math.pi * (day.timetuple().tm_yday - 110) / 365)
            middle = 9.5 if cold <= day < end else warm + 1.6 * season
            low, high = rng.integers(8, 22, 2) * (1 if step == 1 else 2)
            rows.append(
                {
                    "shelf": shelf,
                    "date": day.isoformat(),
                    "min_c": f"{middle - low / 10:.1f}",
                    "max_c": f"{middle + high / 10:.1f}",
                }
            )
            day += dt.timedelta(days=step)
    return _csv(("shelf", "date", "min_c", "max_c"), rows)


def _catch_rows(year: Year) -> list[Row]:
    return [
        {
            "catch": f"C{i + 1:02d}",
            "date": catch.date,
            "kind": catch.what if catch.what in OWN_WORDS else "",
            "genus": "" if catch.what in OWN_WORDS else catch.what,
            "queens": str(sum(catch.sizes) + catch.died),
            "method": catch.method,
            "keeper": catch.keeper,
            "place": catch.place,
            "not_kept": catch.not_kept,
            "not_kept_why": catch.why,
            "died": str(catch.died or ""),
        }
        for i, catch in enumerate(year.catches)
        if catch.keeper in year.keepers
    ]


_KIND = ("kind", "genus", "species", "id_confidence", "first_called", "called")


def demo_files(year: Year = FIRST) -> dict[str, str]:
    """Return a demo study, file name to text, the same on every call.

    Parameters
    ----------
    year : Year
        `FIRST` for ``data/demo``, `SECOND` for ``data/demo-second-year``.
    """
    foundings = begun(year)
    words = {one.row["kind"] for one in foundings if one.keeper in year.keepers}
    kinds = (dict(zip(_KIND, kind, strict=True)) for kind in KINDS if kind[0] in words)
    files = {
        "study.toml": year.settings,
        "kinds.csv": _csv(_KIND, kinds),
        "catches.csv": _csv(CATCH_COLUMNS, _catch_rows(year)),
    }
    if year.temperatures:
        files["temperatures.csv"] = _temperatures()
    for keeper in year.keepers:
        checks, events = season(keeper, foundings)
        rows = (one.row for one in foundings if one.keeper == keeper)
        files[f"foundings-{keeper}.csv"] = _csv(FOUNDING_COLUMNS, rows)
        if keeper == "K3":
            told = {(row["founding"], row["date"]) for row in checks}
            files["checks-K3.txt"] = _notes(checks, events)
            events = [e for e in events if (e["founding"], e["date"]) not in told]
        else:
            files[f"checks-{keeper}.csv"] = _csv(CHECK_COLUMNS, checks)
        if events:
            files[f"events-{keeper}.csv"] = _csv(EVENT_COLUMNS, events)
    return dict(sorted(files.items()))


def write_demo(folder: Path | str, year: Year = FIRST) -> Path:
    """Write a demo study into `folder`, which must be new or empty.

    Raises
    ------
    StudyError
        If the folder holds anything already.
    """
    target = Path(folder)
    if target.exists() and any(target.iterdir()):
        raise StudyError(f"{target}: there is something here already. Name a new folder.")
    target.mkdir(parents=True, exist_ok=True)
    for name, text in demo_files(year).items():
        (target / name).write_text(text, encoding="utf-8", newline="\n")
    return target


if __name__ == "__main__":
    import sys

    write_demo(sys.argv[1], SECOND if "--second-year" in sys.argv[2:] else FIRST)
