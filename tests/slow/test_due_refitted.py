"""What is due, standing on the study's own fit in mid season: do windows keep what they say?"""

import numpy as np
import pytest
from ongoing_seasons import HORIZON, cut, days_of, off, season

from cohort.forecast import due
from cohort.history import history
from cohort.model.asked import fit
from cohort.outcomes.basis import Basis
from cohort.outcomes.parameters import posterior_draws

pytestmark = pytest.mark.slow
SEASONS = range(101, 111)


def own_basis(study, seed):
    """The posterior of the study as it stands, as `results_basis` would read it back."""
    found = fit(history(study), seed=seed, draws=750)
    drawn = posterior_draws(found.posterior, found.design, found.priors, seed=seed, draws=300)
    return Basis(
        drawn,
        (),
        True,
        study.settings.title,
        study.settings.season,
        frozenset(found.design.foundings),
        (1, 3),
        HORIZON,
        3,
    )


def test_windows_and_chances_of_a_study_that_forecasts_itself():
    inside, none, came, lost = [], [], [], []
    for seed in SEASONS:
        _, simulated, day, deaths = season(seed, foundings=32)
        study = cut(simulated, day)
        what = due(study, day.date(), own_basis(study, seed))
        first = simulated.fates.set_index("founding")["first_worker"]
        own = what.windows
        at = own["founding"].map(first).to_numpy()
        low, high = (days_of(own[name], own["started"]).to_numpy() for name in ("low90", "high90"))
        seen = at <= HORIZON
        inside += list((at >= low)[seen] & (at < high + 1)[seen])
        none += list(own["none_this_season"])
        came += list(seen)
        begun = simulated.sheets["foundings.csv"].set_index("founding")["started"]
        sizes = simulated.fates.set_index("founding")["queens"]
        for row in what.groups.itertuples():
            until = (day - np.datetime64(begun[row.founding])).days + 14
            left = sizes[row.founding] - (deaths[row.founding] <= until).sum()
            lost.append((row.lose_one_14, left < row.queens))
    # foundings of one season share a fit, so the error is larger than that of single ones
    assert 0.80 <= np.mean(inside) <= 0.98
    assert abs(off(none, ~np.array(came))) < 5
    said, was = zip(*lost, strict=True)
    assert abs(off(said, was)) < 5
    print(np.mean(inside), len(inside), off(none, ~np.array(came)), off(said, was), len(lost))
