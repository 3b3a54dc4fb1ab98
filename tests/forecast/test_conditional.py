"""Open foundings are weighed with every effect of the model in play, by hand."""

import datetime as dt
import math

import numpy as np
import pytest
from ongoing_seasons import as_basis

from cohort.forecast.conditional import conditioned
from cohort.history import history
from cohort.likelihood import layout as at
from cohort.simulate.truth import GenusTruth, Truth
from cohort.study import read_study

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
