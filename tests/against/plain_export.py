"""A study as plain tables for another program: what was counted, and nothing that was computed.

`foundings.csv` has a row per founding that is compared, `intervals.csv` a row per pair of counts,
`switches.csv` what the entry rules of the model decided: pieces of the hazards that keep a step,
one share of last fights or several, kinds of level, last day.
"""

from __future__ import annotations

import math
import tempfile
from dataclasses import replace
from pathlib import Path

import numpy as np
import pandas as pd

import cohort
from cohort.face import history_of
from cohort.history import History
from cohort.model.sample import prepare
from cohort.simulate.design import Design
from cohort.simulate.season import simulate_study
from cohort.simulate.truth import GenusTruth, Truth

ROOT = Path(__file__).parents[2]
SEED = 20261129
"""Of the simulated study."""
COMMON = {
    "founding_steps": (0.6, 0.3, 0.0, -0.2, -0.3),
    "worker_steps": (0.0, 0.4, -0.2, -0.5),
    "doubling": 0.2,
    "rivalry_doubling": -0.2,
    "mated": 0.8,
    "frailty": 0.6,
}
GENERA = {
    "Lasius": GenusTruth(
        log_hazard=math.log(0.006), together=-0.5, rivalry=2.0, last_fight=0.3,
        log_median_day=math.log(42.0), **COMMON,
    ),
    "Messor": GenusTruth(
        log_hazard=math.log(0.008), together=0.4, rivalry=1.0, last_fight=0.1,
        log_median_day=math.log(55.0), **COMMON,
    ),
    "Tetramorium": GenusTruth(
        log_hazard=math.log(0.004), together=0.0, rivalry=0.3, log_hazard_workers=math.log(0.004),
        last_fight=0.2, log_median_day=math.log(48.0), **COMMON,
    ),
}  # fmt: skip
"""Kinds of the simulated study."""
DESIGN = Design(
    foundings=64, sizes=(1, 2, 4), keepers=4, horizon=160, removals=0.25, seen=0.3, flights=4
)  # fmt: skip
LEVELS = {"keeper_before": 0.3, "keeper_first_worker": 0.1, "flight_after": 0.3}


def _made(design: Design) -> History:
    with tempfile.TemporaryDirectory() as place:
        where = Path(place) / "study"
        simulate_study(design, Truth(GENERA, LEVELS), SEED).write(where)
        return history_of(cohort.read_study(where))


def simulated() -> History:
    """Sixty-four foundings of our simulator: queens given away, matings seen."""
    return _made(DESIGN)


def late() -> History:
    """The like, followed from a later day: for likelihoods only."""
    return _made(replace(DESIGN, foundings=30, delayed=0.7))


def demo() -> History:
    """The demo without its shelf logs, so that every founding runs on plain days."""
    study = cohort.read_study(ROOT / "data" / "demo")
    return history_of(replace(study, temperatures=study.temperatures.iloc[:0]))


STUDIES = {"simulated": simulated, "demo": demo, "late": late}


def export(past: History, folder: Path) -> None:
    """Write the three tables of a history into a folder.

    Parameters
    ----------
    past : History
    folder : Path
        Made where it is missing.
    """
    folder.mkdir(parents=True, exist_ok=True)
    design, _ = prepare(past)
    own = past.foundings[past.foundings["compared"]]
    assert list(own["founding"]) == list(design.foundings)
    columns = [
        "founding", "genus", "size", "mating_seen", "entry", "entry_queens", "entry_workers",
        "first_after", "first_by", "looked_to", "workers_cens",
    ]  # fmt: skip
    table = own[columns].reset_index(drop=True)
    for name, level in design.levels.items():
        table[name] = [level.names[i] for i in level.index]
    table.replace(np.inf, np.nan).to_csv(folder / "foundings.csv", index=False)
    names = own["founding"]
    spans = past.intervals[past.intervals["code"].isin(own.index)]
    spans = spans.assign(founding=names.reindex(spans["code"]).to_numpy())
    spans[["founding", "after", "by", "at_risk", "alive"]].to_csv(
        folder / "intervals.csv", index=False
    )
    kept = np.abs(np.vstack([design.steps1, design.steps2])).max(axis=0) > 0
    switches = {f"step_{i + 1}": int(one) for i, one in enumerate(kept)}
    switches |= {"one_last_fight": int(design.pooled_fight), "horizon": past.horizon}
    pd.Series(switches, name="value").rename_axis("switch").to_csv(folder / "switches.csv")


def main() -> None:
    for name, made in STUDIES.items():
        export(made(), Path(__file__).parent / "whole_model" / name)


if __name__ == "__main__":
    main()
