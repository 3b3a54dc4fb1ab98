"""Open foundings are weighed with every effect of the model in play, by hand."""

import datetime as dt
import math
from dataclasses import replace

import numpy as np
import pytest
import xarray as xr
from ongoing_seasons import as_basis

from cohort.forecast.conditional import conditioned
from cohort.history import history
from cohort.likelihood import layout as at
from cohort.model.sample import prepare
from cohort.simulate.truth import GenusTruth, Truth
from cohort.study import read_study
from cohort.terms.adjusting import Adjust

OWN = GenusTruth(
    together=0.4, doubling=0.3, rivalry_doubling=-0.6, multi_days=-0.2, mated=0.7, mating_seen=0.8
)


def test_size_company_matings_and_warmth_enter(folder):
    rows = "".join(
        f"A-{k},Lasius,2026-06-01,{k},K1,{seen}\n" for k, seen in ((1, 1), (2, 0), (4, 3))
    )
    folder.put("foundings.csv", "founding,genus,started,queens,keeper,mating_seen\n" + rows)
    looks = "".join(f"A-{k},2026-06-11,{k},0\n" for k in (1, 2, 4))
    folder.put("checks.csv", "founding,date,queens_alive,workers\n" + looks)
    folder.put("study.toml", 'title = "Ours"\nseason = "2026"\n')
    past = history(read_study(folder.path, today=dt.date(2026, 6, 30)))
    pace = np.full((1, 3), 0.1)
    basis = as_basis(Truth({"Lasius": OWN}))
    plain = conditioned(past, past.foundings, basis, same_study=False).pars[0]
    paced = conditioned(past, past.foundings, basis, same_study=False, pace=pace).pars[0]
    sure = 0.7 / 0.3 * math.exp(0.8)
    by_hand = {  # together, log day, fertile
        1: (0.0, OWN.log_median_day, sure / (1 + sure)),
        2: (0.4, OWN.log_median_day - 0.2, 1 - 0.3**2),
        4: (0.4 + 0.3, OWN.log_median_day - 0.2, 1 - 0.3 / (1 + sure) ** 3),
    }
    for f, size in enumerate(past.foundings["size"]):
        want = by_hand[int(size)]
        assert plain[f, [at.TOGETHER, at.LOG_DAY, at.FERTILE]] == pytest.approx(want)
        assert plain[f, at.RIVALRY] == pytest.approx(OWN.rivalry - 0.6 * (size == 4))
        assert plain[f, at.HAZARD1] == pytest.approx(OWN.log_hazard)
        assert paced[f, at.LOG_DAY] == pytest.approx(want[1] - 0.1)


def test_what_a_keeper_and_a_covariate_add_counts_in_the_study_behind_the_draws(folder):
    rows = "".join(
        f"A-{k}{i},Lasius,2026-06-01,{k},K{i},{'fed' if k == i else 'none'}\n"
        for k in (1, 2)
        for i in (1, 2)
    )
    head = "founding,genus,started,queens,keeper,feeding\n"
    folder.put("foundings.csv", head + rows)
    folder.put("checks.csv", "founding,date,queens_alive,workers\n" + "".join(
        f"A-{k}{i},2026-06-11,{k},0\n" for k in (1, 2) for i in (1, 2)
    ))  # fmt: skip
    folder.put("study.toml", 'title = "Ours"\nseason = "2026"\n')
    past = history(read_study(folder.path, today=dt.date(2026, 6, 30)))
    design, _ = prepare(past, adjust=Adjust(first_worker=("feeding",)))
    of_keepers = {
        f"keeper_{part}": (("chain", "draw", "keeper"), [[[effect, -effect]]])
        for part, effect in (("before", 0.3), ("after", 0.5), ("first_worker", 0.1))
    }
    slope = {"slope_first_worker": (("chain", "draw", "covariate_first_worker"), [[[0.2]]])}
    plain = as_basis(Truth({"Lasius": OWN}))
    own = replace(plain, posterior=xr.Dataset(of_keepers | slope), design=design)
    names = list(past.foundings["founding"])
    scaled = design.x[:, 0]
    assert np.std(scaled) > 0
    for f, name in enumerate(names):
        side = 1.0 if name.endswith("1") else -1.0
        new, mine = (
            conditioned(past, past.foundings, own, same_study=same).pars[0, f]
            for same in (False, True)
        )
        gained = mine - new
        assert gained[at.HAZARD1] == pytest.approx(side * 0.3)
        assert gained[at.HAZARD2] == pytest.approx(side * 0.5)
        assert gained[at.LOG_DAY] == pytest.approx(side * 0.1 + 0.2 * scaled[f])
    later = own.added(["A-11", "not among them"], np.zeros(1, np.int64))
    assert later[0, :, 0].any()
    assert not later[0, :, 1].any()
