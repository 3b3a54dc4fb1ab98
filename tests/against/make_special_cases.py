"""The looks behind the special cases, drawn from the event simulator with recorded seeds.

Comes in: nothing. Goes out: `special_cases/looks.csv`, which both our tests and the R scripts read.
Run only to draw them anew; then every number of the other programs has to be made anew as well.
"""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pandas as pd

from cohort.simulate.events import Paths, run
from cohort.simulate.truth import GenusTruth

HERE = Path(__file__).parent / "special_cases"
NEVER = -40.0
SHORT = 0.5
"""Day of the first worker where the case is about queens with workers: the middle of (0, 1]."""


def looked(case: str, paths: Paths, rng: np.random.Generator, last: int, first: int) -> list[dict]:
    """Rows of looks at uneven gaps: until all are lost, workers came (cure), or the last day."""
    rows = []
    for i, (deaths, worker) in enumerate(zip(paths.deaths, paths.first_worker, strict=True)):
        if case == "rivalry" and deaths.min() <= 1:
            continue  # lost on the day of the first worker, whose hour is not known
        name, day = f"{case}{paths.size}{i:03d}", 0
        while day < last:
            gap = first if day == 0 and first else int(rng.integers(4, 18))
            day = min(last, day + gap)
            alive = int((deaths > day).sum())
            seen = int(worker <= day)
            rows.append((case, name, paths.size, day, alive, seen))
            if alive == 0 or (case == "cure" and seen):
                break
    return rows


def main() -> None:
    rows = []
    rng = np.random.default_rng(11)
    company = GenusTruth(log_hazard=math.log(0.008), together=0.5, mated=0.0, frailty=0.0)
    for size, number in ((1, 40), (2, 80)):
        rows += looked("company", run(number, size, company, rng, 120.0), rng, 120, 0)
    rng = np.random.default_rng(12)
    rivalry = GenusTruth(
        log_hazard=NEVER, log_hazard_workers=math.log(0.006), rivalry=1.2, last_fight=0.3,
        log_median_day=math.log(SHORT), multi_days=0.0, within_days=1e-6, mated=1.0, frailty=0.0,
    )  # fmt: skip
    rows += looked("rivalry", run(120, 2, rivalry, rng, 120.0), rng, 120, 1)
    rng = np.random.default_rng(13)
    cure = GenusTruth(
        log_hazard=NEVER, log_hazard_workers=NEVER, log_median_day=math.log(45.0),
        within_days=0.25, mated=0.75, frailty=0.0,
    )  # fmt: skip
    rows += looked("cure", run(150, 1, cure, rng, 100.0), rng, 100, 0)
    rng = np.random.default_rng(14)
    frailty = GenusTruth(log_hazard=math.log(0.01), mated=0.0, frailty=0.9)
    rows += looked("frailty", run(80, 4, frailty, rng, 120.0), rng, 120, 0)
    columns = ["case", "founding", "size", "day", "queens", "workers"]
    pd.DataFrame(rows, columns=columns).to_csv(HERE / "looks.csv", index=False)


if __name__ == "__main__":
    main()
