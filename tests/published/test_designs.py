"""Published experiments as designs: their groups and rhythm as our sheets, with simulated outcomes.

Every design is one of the experiments in ``data/findings.csv``: group sizes, length and rhythm as
far as they are told there, the rest common practice. The fates are simulated, so nothing here says
that our numbers are theirs (for that: ``test_conclusions.py``). What is held: such an experiment
can be written on the sheets and passes the audit without an error; what the sheets tell is what
was lived, queen for queen and day for day; and the likelihood of all foundings has its maximum near
the hazards they were lived by: it explains them better than hazards a third or three times as high.
"""

import datetime as dt
import math
from dataclasses import dataclass

import numpy as np
import pandas as pd
import pytest

from cohort.history import history
from cohort.likelihood import layout as at
from cohort.likelihood.exposure import packed
from cohort.likelihood.study import study_loglik
from cohort.simulate.events import run
from cohort.simulate.truth import GenusTruth
from cohort.study import read_study

FIRST = dt.date(2025, 6, 14)


@dataclass(frozen=True)
class Design:
    """A published experiment; sizes maps queens per founding to foundings."""

    paper: str
    genera: tuple[str, ...]
    sizes: dict[int, int]
    days: int
    every: int
    log_hazard: float = math.log(0.004)
    together: float = 0.0
    rivalry: float = 1.5
    fight: float = 0.2
    worker_day: float = 45.0
    marked: bool = False
    boosted: int = 0  # foundings given foreign brood, left out by the rule set beforehand
    field_losses: float = 0.0  # share of foundings lost to flood or digging
    screened: bool = False  # one queen of each pair taken out, alive, once there are workers


DESIGNS = [
    Design("Sommer & Hoelldobler 1995", ("Lasius",), {1: 20, 2: 15, 3: 12, 4: 10}, 120, 3,
           rivalry=2.5),
    Design("Madsen & Offenberg 2017", ("Lasius",), {1: 15, 2: 15, 3: 15}, 84, 7, boosted=12,
           rivalry=2.5, fight=0.6),
    Design("Stukalyuk & Czaczkes 2024", ("Lasius",), {5: 10, 3: 8, 1: 10}, 227, 7,
           log_hazard=math.log(0.0013), rivalry=0.3),
    Design("Teggers et al. 2021", ("Lasius",), {1: 24, 2: 24}, 100, 4, marked=True, together=-0.1),
    Design("Stukalyuk et al. 2024 (Zoodiversity)", ("Lasius", "Solenopsis"), {5: 17, 3: 8}, 150, 7,
           log_hazard=math.log(0.008), rivalry=2.0),
    Design("Tschinkel & Howard 1983", ("Solenopsis",), {1: 30, 5: 12, 10: 8, 15: 6}, 60, 7,
           worker_day=28.0, together=0.3),
    Design("Bernasconi & Keller 1999", ("Solenopsis",), {1: 25, 4: 25}, 50, 2, together=0.7,
           worker_day=26.0, marked=True),
    Design("Jerome, McInnes & Adams 1998", ("Solenopsis",), {1: 30, 2: 30, 4: 20}, 60, 14,
           log_hazard=math.log(0.02), worker_day=30.0, field_losses=0.25),
    Design("Adams & Balas 1999", ("Solenopsis",), {1: 10, 2: 30}, 60, 1, worker_day=27.0,
           marked=True, screened=True),
    Design("Rissing & Pollock 1991", ("Veromessor",), {1: 20, 3: 12, 5: 8}, 110, 5,
           worker_day=50.0),
    Design("Motro, Motro & Cohen 2017", ("Messor",), {1: 30, 3: 10, 6: 6}, 90, 3, together=0.9),
    Design("Shaffer et al. 2022", ("Pogonomyrmex",), {1: 15, 3: 12, 6: 10, 9: 8}, 50, 2,
           together=-0.7, rivalry=0.0, worker_day=35.0),
    Design("Masoni et al. 2017", ("Crematogaster",), {1: 30, 2: 30}, 120, 7, together=0.6),
    Design("Offenberg et al. 2012", ("Oecophylla",), {1: 10, 2: 8, 3: 8, 4: 8, 5: 8}, 68, 2,
           worker_day=50.0),
    Design("Formica podzolica 1995", ("Formica",), {1: 16, 2: 12, 4: 8, 8: 6, 16: 4}, 90, 7,
           together=0.5),
    Design("Hoelldobler & Carlin 1985", ("Iridomyrmex",), {1: 6, 2: 8, 4: 4}, 200, 10,
           rivalry=0.0, field_losses=0.3),
]  # fmt: skip


def day(number):
    return (FIRST + dt.timedelta(days=int(number))).isoformat()


def one(name, k, design, rng, sheets):
    """One founding lived through and written down; gives the queens seen to be lost."""
    truth = GenusTruth(
        log_hazard=design.log_hazard, together=design.together, rivalry=design.rivalry,
        last_fight=design.fight, log_median_day=math.log(design.worker_day), frailty=0.4,
    )  # fmt: skip
    paths = run(1, k, truth, rng, float(design.days))
    washed = rng.integers(10, design.days) if rng.random() < design.field_losses else np.inf
    dead = 0
    for t in range(design.every, design.days + 1, design.every):
        workers = int(paths.first_worker[0] <= t)
        if washed <= t:
            sheets["events"].append([name, day(t), "end", "", "accident"])
            sheets["checks"].append([name, day(t), 0, ""])
            return dead  # what the flood took is no death
        dead = int((paths.deaths[0] <= t).sum())
        alive = k - dead
        sheets["checks"].append([name, day(t), alive, "10+" if workers and t % 3 else workers])
        if alive == 0:
            return dead
        if design.screened and workers and alive == 2:
            sheets["events"].append([name, day(t), "queens-out", 1, "preserved"])
            return dead
    return dead


def written(design, folder):
    """The study, and the queens that its compared foundings lost."""
    rng = np.random.default_rng(sum(map(ord, design.paper)))
    sheets = {"foundings": [], "checks": [], "events": []}
    number, lost, total = 0, 0, len(design.genera) * sum(design.sizes.values())
    for genus in design.genera:
        for k, count in design.sizes.items():
            for _ in range(count):
                number += 1
                name = f"K1-{number:03d}"
                out = "boosted" if number > total - design.boosted else ""
                marked = "yes" if design.marked else ""
                sheets["foundings"].append([name, genus, day(0), k, marked, out])
                if out:
                    sheets["events"].append([name, day(design.every), "brood-in", 10, "workers"])
                seen = one(name, k, design, rng, sheets)
                lost += 0 if out else seen
    heads = {
        "foundings": ["founding", "genus", "started", "queens", "marked", "left_out"],
        "checks": ["founding", "date", "queens_alive", "workers"],
        "events": ["founding", "date", "event", "number", "other"],
    }
    for name, rows in sheets.items():
        if rows:
            pd.DataFrame(rows, columns=heads[name]).to_csv(folder / f"{name}.csv", index=False)
    (folder / "study.toml").write_text(
        f'title = "After {design.paper}"\nseason = "2025"\nhorizon_days = {design.days}\n'
    )
    return read_study(folder, today=dt.date(2026, 6, 1)), lost


@pytest.mark.parametrize("design", DESIGNS, ids=lambda d: d.paper)
def test_the_experiment_can_be_written_audited_and_weighed(design, tmp_path):
    study, lost = written(design, tmp_path)  # an error of the audit would raise here
    assert len(study.foundings) == len(design.genera) * sum(design.sizes.values())
    past = history(study)
    assert sorted(past.foundings["size"].unique()) == sorted(design.sizes)
    assert (~past.foundings["compared"]).sum() == design.boosted
    accidents = past.foundings["end_kind"] == "accident"
    assert accidents.any() == (design.field_losses > 0)
    assert (past.foundings["end_kind"] == "preserved").sum() == 0  # one of two queens went
    compared = past.foundings.index[past.foundings["compared"]]
    told = past.intervals[past.intervals["code"].isin(compared)]
    assert int(told["lost"].sum()) == lost
    assert lost >= 5
    exposure = packed(past)
    par = np.zeros((len(exposure.foundings), at.FOUNDING_WIDTH))
    size = exposure.foundings["size"].to_numpy()
    par[:, at.HAZARD1], par[:, at.HAZARD2] = design.log_hazard, math.log(0.002)
    par[:, at.TOGETHER] = np.where(size >= 2, design.together, 0.0)
    par[:, at.RIVALRY], par[:, at.LAST_FIGHT] = design.rivalry, design.fight
    par[:, at.LOG_DAY], par[:, at.FERTILE] = math.log(design.worker_day), 1 - 0.1**size
    shared = np.zeros(at.SHARED_WIDTH)
    shared[at.WITHIN_DAYS], shared[at.SIGMA], shared[at.LOADING] = 0.15, 0.4, 1.0
    tables = exposure.records, exposure.rows, exposure.nodes

    def off(by, **columns):
        other = par.copy()
        other[:, list(columns.values())] += by
        return study_loglik(other, shared, *tables)

    value, gradient, in_shared = off(0.0)
    assert np.isfinite(gradient).all()
    assert np.isfinite(in_shared).all()
    # The truth explains its own foundings better than other hazards and other days.
    for by in (math.log(3), -math.log(3)):
        assert off(by, both=at.HAZARD1, workers=at.HAZARD2)[0] < value - 1
    for by in (0.4, -0.4):
        assert off(by, day=at.LOG_DAY)[0] < value - 1
    # Slopes are those of the value.
    up, down = (off(by, day=at.LOG_DAY)[0] for by in (1e-5, -1e-5))
    assert gradient[:, at.LOG_DAY].sum() == pytest.approx((up - down) / 2e-5, rel=1e-3, abs=1e-3)


@pytest.mark.slow
@pytest.mark.parametrize("place", [3, 11])
def test_two_of_them_fit_and_settle(place, tmp_path):
    from cohort.model.asked import fit
    from cohort.model.gate import judge

    design = DESIGNS[place]
    found = fit(history(written(design, tmp_path)[0]), seed=20260704)
    told = judge(found.posterior, found.stats, {})
    assert told.settled, told.reasons
    level = found.posterior["founding_hazard"].mean()
    assert abs(float(level) - design.log_hazard) < 1.5
