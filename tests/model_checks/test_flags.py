"""Checks by group without a fit: replicates of the model itself are taken as what was seen.

Then every tail area ought to be even, and hardly any study flagged; and a keeper whose queens die
faster, of whom the model knows nothing, ought to be.
"""

from __future__ import annotations

import math

import numpy as np
import pandas as pd
import pytest
from by_rows import Rates
from scenes import history_of, lived, par_of, shared_of

from cohort.likelihood import layout as at
from cohort.model import calendar_time, flags
from cohort.model.predictive import checks
from cohort.model.priors import Priors
from cohort.model.replicated import Seen, calendar
from cohort.model.sample import prepare, sample
from cohort.model.statistics_by_group import groups, statistics
from cohort.model.tail_areas import flagged
from cohort.model.tallies import tallies
from cohort.predict.posterior_predictive import posterior_predictive

RATES = Rates(level1=0.006, ratio1=1.2, tau=0.15, phi=0.9, sigma=0.5)
STUDIES = 40


@pytest.fixture(scope="module")
def past():
    sets = lived(32, 1, RATES, range(7, 169, 7), 1) + lived(32, 3, RATES, range(7, 169, 7), 2)
    more = {
        f"F{i}": {"genus": "Lasius" if i % 4 < 2 else "Messor", "keeper": f"K{i % 2 + 1}"}
        for i in range(64)
    }
    return history_of(sets, more=more)


def made(plan, draws, seed, harder=None):
    """Replicated studies at the rates of `RATES`, the log hazards of some foundings moved."""
    par = np.repeat(par_of(RATES, len(plan.size))[None], draws, axis=0)
    par[:, plan.size < 2, at.TOGETHER] = 0.0
    if harder is not None:
        par[:, :, at.HAZARD1] += harder
        par[:, :, at.HAZARD2] += harder
    shared = np.repeat(shared_of(RATES)[None], draws, axis=0)
    return Seen(*posterior_predictive(par, shared, plan, np.random.default_rng(seed)))


def held(past, seen_of):
    """Tables of checks of many studies, all held against the same replicates."""
    plan, _ = calendar(past)
    chosen = past.foundings
    of = (*groups(chosen), *calendar_time.months(plan, chosen))

    def counted(shown):
        tallied = tallies(plan, shown)
        by_calendar = calendar_time.statistics(calendar_time.dated(plan, chosen), shown, of)
        return tallied, statistics(tallied, of) | by_calendar

    _, drawn = counted(made(plan, 2000, 1))
    tallied, found = counted(seen_of(plan))
    for i in range(STUDIES):
        one = {key: values[i : i + 1] for key, values in found.items()}
        own = {name: values[i : i + 1] for name, values in tallied.items()}
        yield flags.as_table(flags.rows(drawn, one, own, of, seed=3))


def test_replicates_of_the_model_are_hardly_flagged_and_their_tail_areas_are_even(past):
    tables = list(held(past, lambda plan: made(plan, STUDIES, 2)))
    alarms = sum(table["flagged"].any() for table in tables)
    areas = pd.concat(tables)["tail_area"]
    print("flagged", alarms, "of", STUDIES, {q: (areas <= q).mean() for q in (0.5, 0.1, 0.01)})
    assert alarms <= 4  # 2 are expected at most; 5 or more come in one of twenty such tests
    assert 0.44 < (areas <= 0.5).mean() < 0.54
    assert 0.06 < (areas <= 0.1).mean() < 0.13
    assert (areas <= 0.01).mean() < 0.016


def test_a_keeper_of_whom_the_model_knows_nothing_is_found(past):
    keeper = past.foundings["keeper"].to_numpy()
    harder = np.where(keeper == "K1", 0.7, -0.7)
    found = 0
    for table in held(past, lambda plan: made(plan, STUDIES, 4, harder)):
        odd = table[table["flagged"] & table["by"].str.startswith("keeper")]
        found += bool(len(odd))
        for row in flags.flags(odd):
            if row["check"] == "all_lost":
                assert row["says"] == ("more" if row["group"] == "K1" else "fewer")
    print("found", found, "of", STUDIES)
    assert found >= 0.8 * STUDIES


def test_of_a_fit_as_the_comparison_asks_for_them(past):
    design, exposure = prepare(past)
    fitted = sample(design, exposure, Priors(), seed=1, draws=100, tune=150, chains=2)
    found = checks(fitted, past, seed=2, draws=200)
    assert list(found.table.columns) == list(flags.COLUMNS)
    assert set(found.table["by"]) == {"all", "way", "genus", "keeper", "keeper_single",
                                      "keeper_multi", "month"}  # fmt: skip
    inside = found.table["low"].le(found.table["expected"] + 0.5)
    assert inside.all()
    assert set(found.curves["curve"]) == {"replicated_queen_survival", "replicated_first_worker"}
    again = checks(fitted, past, seed=2, draws=200)
    pd.testing.assert_frame_equal(found.table, again.table)
    assert found.flags == again.flags


def test_keepers_are_numbered_in_files_that_name_none():
    row = flags.row("all_lost", "keeper", "Anna", (4.0, 2.0, 1.0, 3.0), 1e-6)
    other = flags.row("all_lost", "keeper_single", "Zoe", (0.0, 2.0, 1.0, 3.0), 0.5)
    way = flags.row("all_lost", "way", "single", (0.0, 2.0, 1.0, 3.0), 0.5)
    table = flags.as_table([row, other, way])
    assert flags.unnamed(table)["group"].tolist() == ["1", "2", "single"]
    (one,) = flags.flags(table)
    assert one == {
        "check": "all_lost", "by": "keeper", "group": "Anna", "genus": "", "observed": 4.0,
        "expected": 2.0, "tail_area": 1e-6, "touches": ["queen_survival", "colony"],
        "says": "more",
    }  # fmt: skip


def test_an_uneven_allotment_is_not_drowned_by_checks_of_the_model():
    numbers = (0.3, 0.0, -0.1, 0.1)
    of_the_model = [flags.row("all_lost", "genus", f"G{i}", numbers, 0.5) for i in range(60)]
    uneven = flags.row("allotment_mating", "all", "", numbers, 0.003)
    even = flags.row("allotment_day", "all", "", numbers, 0.4)
    table = flags.as_table([*of_the_model, uneven, even])
    assert table.loc[table["flagged"], "check"].tolist() == ["allotment_mating"]
    assert not flagged(table["tail_area"].to_numpy(), np.zeros(62, np.int64)).any()  # as one


def test_a_day_is_shown_as_a_day_and_a_count_as_a_whole_number():
    assert flags._shown("first_worker_day", (math.log(40), math.log(50), 0.0, 0.0)) == (
        pytest.approx(40), pytest.approx(50), 1.0, 1.0,
    )  # fmt: skip
    assert flags._shown("losses_after_by_size", (1.5, 0.2, -0.1, 2.0)) == (1.5, 0.2, -0.1, 2.0)
    assert flags._shown("all_lost", (3.0, -0.2, -0.4, 5.4)) == (3.0, 0.0, 0.0, 5.0)
