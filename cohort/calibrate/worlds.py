"""Comparisons of studies whose truth is known: worlds with a broken assumption, and wished gains.

Comes in: worlds and seeds. Goes out: a folder for each world with one file per study, and what is
true there. Never: a judgement (see `tally`).
"""

from __future__ import annotations

import json
import math
import tempfile
import time
from collections.abc import Iterable
from functools import partial
from pathlib import Path
from typing import Any, Final

import numpy as np
import pandas as pd

from cohort.base import disk
from cohort.calibrate.run import spread
from cohort.comparison import Comparison, compare
from cohort.simulate.known import NAMES, known_outcomes
from cohort.simulate.scenario import Scenario, broken_study, true_gains
from cohort.study import read_study

__all__ = ["CONTRASTS", "KEY", "place", "trial", "trials", "truths"]

CONTRASTS: Final = ("same_queens_any", "same_queens_count")
"""Contrasts whose likely ranges are held against the truth."""
KEY: Final = ("quantity", "reading", "genus", "queens", "day")
NO_DAY: Final = -1
"""Day of a contrast that has none."""


def _plain(table: pd.DataFrame) -> list[dict[str, Any]]:
    """Rows as JSON has them: no nan."""
    return list(json.loads(table.to_json(orient="records")))


def _contrasts(made: Comparison) -> list[dict[str, Any]]:
    """The same-queens contrasts on the last day that is printed."""
    rows = made.results.comparisons
    rows = rows[rows["quantity"].isin(CONTRASTS) & (rows["day"] == made.history.horizon)]
    return _plain(rows[[*KEY, "mean", "low", "high"]])


def trial(seed: int, scenario: Scenario) -> dict[str, Any]:
    """What a comparison says of one study of a world.

    Parameters
    ----------
    seed : int
        Of the study and of the comparison.
    scenario : Scenario

    Returns
    -------
    dict
        ``seed``, ``settled``, ``runs``, ``divergences`` (of the run that was kept), ``flags``
        (flagged checks, as in ``diagnosis.json``), ``verdicts`` (rows of ``verdicts.csv``),
        ``contrasts`` (rows of ``comparisons.csv``), ``seconds`` (processor time of this process:
        all of it where several share the machine).
    """
    begun = time.process_time()
    with tempfile.TemporaryDirectory() as folder:
        study = read_study(broken_study(scenario, seed).write(Path(folder) / "study"))
    made = compare(study, seed=seed)
    said = made.results.diagnosis
    return {
        "seed": seed,
        "settled": bool(said["settled"]),
        "runs": int(said.get("runs", 0)),
        "divergences": int(said.get("divergences", 0)),
        "flags": list(said.get("flags", ())),
        "verdicts": _plain(made.results.verdicts),
        "contrasts": _contrasts(made),
        "seconds": round(time.process_time() - begun, 2),
    }


def truths(scenario: Scenario, *, foundings: int = 100_000) -> pd.DataFrame:
    """What is true of new foundings of a world.

    Where nothing is broken all contrasts of a comparison are known; else the same-queens contrasts
    on the last day, from lives under the world's own rule.

    Parameters
    ----------
    scenario : Scenario
    foundings : int
        Simulated for each genus and size; a fifth of them under a rule of its own.

    Returns
    -------
    DataFrame
        Columns `KEY` (day -1 where there is none), truth, and better: how far several queens do
        better than one, below 0 where they do worse, of logs for ratios.
    """
    sizes = [size for size in scenario.design.sizes if size > 1]
    horizon = scenario.design.horizon
    if scenario.breaks:
        parts = [true_gains(scenario, k, foundings=foundings // 5).assign(queens=k) for k in sizes]
        table = pd.concat(parts).rename(columns={"contrast": "quantity"}).assign(day=horizon)
    else:
        known = known_outcomes(scenario.truth, sizes, horizon, foundings=foundings)
        table = known[known["arm"].isin(("difference", "ratio"))].copy()
        table["day"] = table["day"].fillna(NO_DAY).astype(int)
    signs = {"higher": 1.0, "lower": -1.0}
    sign = table["quantity"].map(lambda name: signs.get(NAMES[name].better, math.nan))
    ratio = table["quantity"].map(lambda name: NAMES[name].unit == "ratio").to_numpy(dtype=bool)
    logs = np.log(table["truth"].where(ratio, 1.0))
    table["better"] = np.where(ratio, logs, table["truth"]) * sign
    return table[[*KEY, "truth", "better"]].dropna(subset="better").reset_index(drop=True)


def place(folder: Path, scenario: Scenario) -> Path:
    """Folder of the studies of a world, by its name and number of foundings."""
    return folder / f"{scenario.name}-{scenario.design.foundings}"


def trials(
    folder: Path,
    scenarios: Iterable[Scenario],
    seeds: Iterable[int],
    *,
    jobs: int = 1,
    scheduler: str = "",
) -> None:
    """Compare the study of every world and seed that has no file yet.

    Parameters
    ----------
    folder : Path
        Gets a folder for each world; ``truth.json`` in it says what is true there. Studies made by
        other code must not lie there.
    scenarios : iterable of Scenario
    seeds : iterable of int
    jobs, scheduler
        See `cohort.calibrate.run.spread`.
    """
    wanted = list(seeds)
    for scenario in scenarios:
        here = place(folder, scenario)
        here.mkdir(parents=True, exist_ok=True)
        if not (here / "truth.json").exists():
            disk.put(here / "truth.json", json.dumps(_plain(truths(scenario))))
        spread(here, wanted, partial(trial, scenario=scenario), jobs=jobs, scheduler=scheduler)
