"""All that a keeper could have written shares one unit of chance.

Every path of counts and every bracket of the first worker that a calendar of looks can show is
written out as a founding of its own, read through study, history and packing, and the kernel's
chances are summed. Two wrong forms of the likelihood, each tempting, do not sum to one.
"""

import numpy as np
import pytest
from by_rows import Rates
from scenes import marginal, packed_sets, tables_of

from cohort.likelihood import layout as at

WEEKS = (7.0, 14.0, 21.0, 28.0, 35.0, 42.0, 49.0)
UNEVEN = (5.0, 18.0, 30.0, 33.0, 60.0)
FAST = Rates(
    level1=0.02,
    ratio1=1.8,
    level2=0.015,
    ratio2=4.1,
    theta=0.3,
    log_day=np.log(26.0),
    tau=0.35,
    phi=0.8,
    steps1=(0.5, 0.2, 0.0, -0.3, 0.1),
    steps2=(0.0, 0.4, -0.2, 0.3),
)
CASES = {
    "weekly": (3, WEEKS, "bbbbbbb", FAST),
    "pairs, uneven": (2, UNEVEN, "bbbbb", FAST),
    "singles": (1, WEEKS, "bbbbbbb", FAST),
    "all mated": (3, UNEVEN, "bbbbb", FAST.but(phi=1.0)),
    "company helps": (3, UNEVEN, "bbbbb", FAST.but(ratio1=0.43, ratio2=0.83)),
    "workers not looked for at some looks": (3, UNEVEN, "bqbqb", FAST),
    "workers not looked for at the end": (3, UNEVEN, "bbbqq", FAST),
    "workers never looked for": (2, UNEVEN, "qqqqq", FAST),
    "queens not counted at some looks": (3, UNEVEN, "wbwbb", FAST),
    "queens counted at every other look, workers at the others": (2, WEEKS, "wqwqwqb", FAST),
    "workers alone looked for, then queens alone": (3, UNEVEN, "bbwqq", FAST),
    "queens not counted at the end": (3, UNEVEN, "bbbww", FAST),
    "queens never counted": (2, UNEVEN, "wwwww", FAST),
}


def possible(k, calendar, sought, *, workers=False):
    """All that can be written: looks of (day, queens, workers).

    ``sought`` has a letter per look: q queens alone, w workers alone, b both. Looks end when
    all queens are found dead.
    """
    if not calendar:
        return [()]
    out = []
    for alive in range(k + 1) if sought[0] != "w" else (None,):
        left = k if alive is None else alive
        for w in (None,) if sought[0] == "q" else (1,) if workers else (0, 1):
            here = (calendar[0], alive, w)
            rest = calendar[1:] if left else ()
            tails = possible(left, rest, sought[1:], workers=workers or w == 1)
            out += [(here, *tail) for tail in tails]
    return out


def chances(k, calendar, sought, rates, *, spoil=None, cell=0.1):
    sets = [(k, looks) for looks in possible(k, calendar, sought)]
    tables = tables_of(packed_sets(sets, cell=cell))
    if spoil is not None:
        tables = spoil(*tables, sets)
    return np.exp(marginal(tables, rates)), sets


@pytest.mark.parametrize("name", CASES)
def test_everything_that_can_be_seen_sums_to_one(name):
    k, calendar, sought, rates = CASES[name]
    got, sets = chances(k, calendar, sought, rates)
    assert (got > 0).all()
    assert len(set(sets)) == len(sets)
    assert got.sum() == pytest.approx(1, abs=1e-6)


def test_also_when_foundings_differ_in_frailty():
    k, calendar, sought, rates = CASES["pairs, uneven"]
    got, _ = chances(k, calendar, sought, rates.but(sigma=0.8, loading=0.7))
    assert got.sum() == pytest.approx(1, abs=2e-5)  # 15 nodes of frailty for each founding


def censored_at_a(records, rows, nodes, sets):
    """Wrong: of those found dead without workers, E is merely later than the look before."""
    records = records.copy()
    for i, (_, looks) in enumerate(sets):
        if looks[-1][1] == 0 and all(look[2] == 0 for look in looks):
            before = looks[-2][0] if len(looks) > 1 else 0.0
            records[i, at.LOG_END] = np.log(before) if before else -745.0
            records[i, at.NODES_TO] = records[i, at.NODES_FROM]
    return records, rows, nodes


def count_from_nought(records, rows, nodes, sets):
    """Wrong: workers may have come to a founding in which no queen lived."""
    nodes = nodes.copy()
    nodes[nodes[:, at.LEAST] == 1.0, at.LEAST] = 0.0
    return records, rows, nodes


@pytest.mark.parametrize("spoil", [censored_at_a, count_from_nought])
def test_wrong_forms_do_not(spoil):
    # Few looks, many deaths between them: where the two forms hurt most.
    rates = FAST.but(level1=0.03, tau=0.3, phi=1.0)
    got, _ = chances(1, (20.0, 40.0), "bb", rates, spoil=spoil)
    right, _ = chances(1, (20.0, 40.0), "bb", rates)
    assert right.sum() == pytest.approx(1, abs=1e-6)
    assert got.sum() > 1.05


@pytest.mark.parametrize("workers", [0, 1])
def test_what_follows_a_late_entry_sums_to_one(workers):
    # Given the state on day 30 (two of three queens, workers or not): whatever came before.
    k, there, entry, rates = 3, 2, 30.0, FAST
    later = possible(there, (37.0, 51.0, 58.0), "bbb", workers=bool(workers))
    sets = [(k, ((entry, there, workers), *looks)) for looks in later]
    started = {f"F{i}": {"followed_from": _date(entry)} for i in range(len(sets))}
    exposure = packed_sets(sets, cell=0.1, more=started)
    assert (exposure.foundings["entry"] == entry).all()
    assert exposure.records.shape[0] == 2 * len(sets)
    for own in (rates, rates.but(sigma=0.9)):
        got = np.exp(marginal(tables_of(exposure), own))
        assert got.sum() == pytest.approx(1, abs=1e-6 if own.sigma == 0 else 2e-5)
    # Without the chance of the state at entry the sum is that chance, far from one.
    alone = np.exp(marginal((exposure.records[: len(sets)], *tables_of(exposure)[1:]), rates))
    assert alone.sum() < 0.5


def _date(day):
    from small_study import date

    return date(day)
