"""On degree-days, too, all that a keeper could have written shares one unit of chance."""

import numpy as np
import pytest
from scenes import packed_sets, par_of, shared_of, tables_of
from small_study import date
from test_unity import CASES, possible

from cohort.likelihood import layout as at
from cohort.likelihood.study import marginal_loglik
from cohort.likelihood.warm_tables import warm_tables
from cohort.warmth import WarmClock


def a_spring(seed=3, days=70):
    """A cold shelf that warms up, with days on which nothing grows at 12 C."""
    rng = np.random.default_rng(seed)
    middle = np.linspace(9.0, 24.0, days) + rng.normal(0, 2, days)
    half = rng.uniform(0.0, 6.0, days)
    return WarmClock(middle - half, middle + half, 20.0)


def test_what_follows_a_late_entry_sums_to_one_on_the_warm_clock():
    k, calendar, there, entry, rates = 2, (37.0, 51.0, 58.0), 2, 30.0, CASES["weekly"][3]
    later = possible(there, calendar, "bbb")
    sets = [(k, ((entry, there, 0), *looks)) for looks in later]
    more = {f"F{i}": {"followed_from": date(entry)} for i in range(len(sets))}
    narrow, rows, nodes = tables_of(packed_sets(sets, cell=0.1, more=more))
    records, wide = warm_tables(narrow, nodes, [a_spring()] * len(sets))
    par, shared = par_of(rates, len(sets))[None], shared_of(rates)[None]
    par[..., at.THRESHOLD] = 9.1
    got = np.exp(marginal_loglik(par, shared, records, rows, wide)[0])
    assert got.sum() == pytest.approx(1, abs=1e-6)
    # The state at entry on plain days, what follows on the clock: not of one whole.
    records[len(sets) :, at.WARM_RECORD] = 0.0
    wrong = np.exp(marginal_loglik(par, shared, records, rows, wide)[0])
    assert abs(wrong.sum() - 1) > 1e-2


@pytest.mark.parametrize("name", ["singles", "pairs, uneven", "workers not looked for at the end"])
def test_everything_sums_to_one_on_the_warm_clock(name):
    k, calendar, sought, rates = CASES[name]
    sets = [(k, looks) for looks in possible(k, calendar, sought)]
    narrow, rows, nodes = tables_of(packed_sets(sets, cell=0.1))
    records, wide = warm_tables(narrow, nodes, [a_spring()] * len(sets))
    par, shared = par_of(rates, len(sets))[None], shared_of(rates)[None]
    sums = []
    for level in (5.0, 12.7, 16.0):
        par[..., at.THRESHOLD] = level
        here = np.exp(marginal_loglik(par, shared, records, rows, wide)[0])
        assert here.sum() == pytest.approx(1, abs=1e-6)
        sums.append(here)
    assert np.abs(sums[0] - sums[1]).max() > 1e-3  # the threshold does move what is likely
    # One end left on plain days: the parts are no longer of one whole.
    mixed = narrow.copy()
    mixed = np.pad(mixed, ((0, 0), (0, at.WARM_RECORD_WIDTH - at.RECORD_WIDTH)))
    wrong = np.exp(marginal_loglik(par, shared, mixed, rows, wide)[0])
    assert abs(wrong.sum() - 1) > 1e-2
