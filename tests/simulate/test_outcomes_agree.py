"""Every printed outcome of the recursion against the event simulator, at fixed parameters.

The two share no formula: the simulator draws each queen's fate from the hazards. A row agrees
within four Monte Carlo standard errors and the .003 (chances; .3 day) that the two-day grid and
seven frailty nodes are allowed. Left out of the recursion, either of theta and the fertile share
breaks the agreement.
"""

import dataclasses
import math

import numpy as np
import pandas as pd
import pytest

from cohort.outcomes.known import known_draws
from cohort.outcomes.quantities import outcomes
from cohort.simulate.events import run
from cohort.simulate.known import beside, known_outcomes
from cohort.simulate.summaries import summaries
from cohort.simulate.truth import GenusTruth, Truth
from cohort.terms.levels import PARTS
from cohort.terms.questions import QUANTITIES

HORIZON, SIZES = 160, (1, 2, 3, 5)
COMMON = {
    "founding_steps": (0.5, 0.2, 0.0, -0.2, -0.3),
    "worker_steps": (0.0, 0.4, -0.2, -0.5),
    "within_days": 0.15,
    "frailty": 0.6,
    "doubling": 0.2,
    "rivalry_doubling": -0.7,
    "multi_days": -0.08,
    "mated": 0.8,
}
TRUTH = Truth(
    {
        "Lasius": GenusTruth(
            log_hazard=math.log(0.004), together=-0.4, log_hazard_workers=math.log(0.002),
            rivalry=2.0, last_fight=0.3, log_median_day=math.log(42.0), **COMMON,
        ),
        "Messor": GenusTruth(
            log_hazard=math.log(0.003), together=0.8, log_hazard_workers=math.log(0.004),
            rivalry=0.2, last_fight=0.05, log_median_day=math.log(60.0), **COMMON,
        ),
    }
)  # fmt: skip


def as_draws(truth):
    """The truth as two equal draws of the recursion's parameters."""
    return known_draws([truth, truth])


def table_of(draws):
    """Means of the outcomes, with the arms and contrasts of the long table."""
    post = outcomes(draws, SIZES, HORIZON)
    direct = {"hazard_ratio": "ratio", "time_ratio": "ratio", "same_queens_any": "difference",
              "same_queens_count": "difference"}  # fmt: skip
    rows = []
    for (_, name, k, day, reading), values in post.values.items():
        single = k == 1 or name.endswith("from_same_queens")
        arm = direct.get(name, "single" if single else "multi")
        for genus, value in zip(post.kinds, values.mean(axis=0), strict=True):
            unit = "ratio" if name.endswith("_ratio") else "other"
            when = day if math.isfinite(day) else math.nan
            rows.append((name, reading, genus, arm, k, when, value, unit))
    columns = ["quantity", "reading", "genus", "arm", "queens", "day", "mean", "unit"]
    table = pd.DataFrame(rows, columns=columns)
    return table.assign(low=table["mean"], high=table["mean"])


@pytest.fixture(scope="module")
def known():
    return known_outcomes(TRUTH, SIZES, HORIZON, foundings=100_000, seed=5)


def off(table, known):
    """Rows that disagree: error beyond the allowance and four standard errors."""
    rows = beside(table, known)
    coarse = {"queen_days": 0.3, "median_day": 0.2}
    allowed = rows["quantity"].map(coarse).fillna(0.003) * rows["queens"].where(
        rows["quantity"].isin(["expected_left", "colonies_from_same_queens", "same_queens_count"]),
        1,
    )
    return rows, rows[rows["error"].abs() > allowed + 4 * rows["se"]]


def test_readings_differ_where_they_should(known):
    # Fault: two readings that are one and the same, so that agreement proves nothing of either.
    lasting = known[known["quantity"].isin(["chance_per_founding", "chance_lasting"])]
    lasting = lasting[(lasting["day"] == HORIZON) & (lasting["arm"] != "difference")]
    wide = lasting.pivot(index=["genus", "queens"], columns="reading", values="truth")
    one = wide.loc[(slice(None), 1), :]
    assert (one["seen"] == one["alike"]).all()
    assert (one["mated-first"] == one["alike"]).all()
    groups = wide[wide.index.get_level_values("queens") > 1]
    assert (groups["seen"] > groups["alike"] + 0.01).all()
    assert (groups["alike"] > groups["mated-first"] + 0.01).all()


def test_every_outcome_agrees(known):
    rows, wrong = off(table_of(as_draws(TRUTH)), known)
    apart = {quantity.name for quantity in QUANTITIES.values() if not quantity.drawn}
    assert set(rows["quantity"]) == set(known["quantity"]) - apart
    assert len(rows) > 300
    columns = ["quantity", "reading", "genus", "queens", "day", "mean", "truth", "se"]
    assert wrong.empty, wrong[columns]


@pytest.mark.parametrize(
    ("change", "quantity"),
    [
        ({"last_fight": 0.0}, "chance_none_left"),
        ({"mated": 1.0}, "chance_lasting"),
        ({"rivalry": 0.0}, "expected_left"),
        ({"rivalry_doubling": 0.0}, "expected_left"),
        ({"together": 0.0}, "share_alive_before_workers"),
        ({"frailty": 0.0}, "share_alive"),
        ({"multi_days": 0.0}, "median_day"),
    ],
)
def test_a_wrong_recursion_would_be_seen(known, change, quantity):
    wrong = Truth({g: dataclasses.replace(own, **change) for g, own in TRUTH.genera.items()})
    _, seen = off(table_of(as_draws(wrong)), known)
    assert quantity in set(seen["quantity"])


ADDED = {  # two rows of covariates: what each adds to survival, the first worker, being mated
    "before": (-0.6, 0.9), "after": (1.2, -0.8), "first_worker": (0.25, -0.2), "mated": (-1.1, 0.7)
}  # fmt: skip
SHARE = (0.3, 0.7)


def lived_by_rows(added, share, k, n=120_000):
    """Means and errors of foundings of which a share lives by each row."""
    rng = np.random.default_rng([31, k])
    row = (rng.random(n) >= share[0]).astype(int)
    moves = {part: np.asarray(both)[row] for part, both in added.items()}
    paths = run(
        n, k, TRUTH.genera["Lasius"], rng, HORIZON, shift=moves["before"],
        shift_after=moves["after"], shift_day=moves["first_worker"], shift_mated=moves["mated"],
    )  # fmt: skip
    table = summaries(paths, (60, 90, HORIZON), after=(), horizon=HORIZON)
    return table.set_index(["quantity", "day", "reading"]).sort_index()


def told_by_rows(added, share):
    """The same by the recursion."""
    draws = as_draws(Truth({"Lasius": TRUTH.genera["Lasius"]}))
    rows = np.array([[added[part] for part in PARTS]], float)
    return outcomes(dataclasses.replace(draws, added=rows, share=np.array(share)), (1, 3), HORIZON)


def apart(post, known):
    """Quantities, by size, that disagree; and how many were held against each other."""
    out, tried = set(), 0
    coarse = {"queen_days": 0.3, "median_day": 0.3}
    for (_, name, k, when, reading), values in post.values.items():
        key = (name, when if math.isfinite(when) else HORIZON, reading)
        if k not in known or key not in known[k].index:
            continue
        row, tried = known[k].loc[key], tried + 1
        if abs(values[0, 0] - row["mean"]) > coarse.get(name, 0.003) + 4 * row["se"]:
            out.add((name, k))
    return out, tried


@pytest.fixture(scope="module")
def by_rows():
    return {k: lived_by_rows(ADDED, SHARE, k) for k in (1, 3)}


def test_rows_of_covariates_move_survival_first_worker_and_mating(by_rows):
    wrong, tried = apart(told_by_rows(ADDED, SHARE), by_rows)
    assert not wrong
    assert tried > 20
    odds = [4 * math.exp(move) for move in ADDED["mated"]]  # .8 is odds of 4
    fertile = {
        k: 1 - sum(part * (1 / (1 + o)) ** k for part, o in zip(SHARE, odds, strict=True))
        for k in (1, 3)
    }
    for (_, name, k, *_), values in told_by_rows(ADDED, SHARE).values.items():
        if name == "fertile_share":
            assert values[0, 0] == pytest.approx(fertile[k])


@pytest.mark.parametrize("part", ADDED)
def test_a_recursion_that_forgets_what_a_covariate_moves_would_be_seen(by_rows, part):
    wrong, _ = apart(told_by_rows(ADDED | {part: (0.0, 0.0)}, SHARE), by_rows)
    assert {k for _, k in wrong} == {1, 3}


def test_the_next_season_is_one_fresh_season_in_every_draw_for_both_ways():
    season = {"before": (0.8, -0.8), "after": (-0.5, 0.9), "first_worker": (0.2, -0.3)}
    draws = as_draws(TRUTH)
    effects = np.zeros((2, len(PARTS)))
    effects[:, :3] = np.array(list(season.values())).T
    post = outcomes(dataclasses.replace(draws, season=effects), (1, 3), HORIZON)
    plain = outcomes(draws, (1, 3), HORIZON)
    here = post.kinds.index("average")
    ahead, new = post.kinds.index("next_season"), post.kinds.index("new")
    tried = 0
    for d in range(2):
        moved = np.zeros((1, len(PARTS), 1))
        moved[0, :, 0] = effects[d]
        by_hand = outcomes(dataclasses.replace(draws, added=moved), (1, 3), HORIZON)
        for key, values in post.values.items():
            assert values[d, ahead] == pytest.approx(by_hand.values[key][d, here], abs=1e-12)
            assert values[d, [0, 1, here, new]] == pytest.approx(
                plain.values[key][d, [0, 1, here, new]], abs=1e-12
            )
            tried += abs(values[d, ahead] - values[d, here]) > 0.01
    assert tried > 60
    same = outcomes(draws, (1,), HORIZON)  # no season is drawn: the next is as this one
    assert all((v[:, ahead] == v[:, here]).all() for v in same.values.values())
    curve = post.of_kind(post.alive, ahead, 3)
    assert curve[0] != pytest.approx(post.of_kind(post.alive, here, 3)[0], abs=0.01)
    assert post.of_kind(post.alive, new, 3) == pytest.approx(plain.of_kind(plain.alive, new, 3))
