"""What a study tells of each effect: sums of what was seen; and the way back from signed SDs."""

import numpy as np
import pytest
from by_rows import Rates
from scenes import history_of, lived

from cohort.exposure import packed
from cohort.model.geometry import unsigned
from cohort.model.lineup import line_up
from cohort.model.told import losses, told


@pytest.fixture(scope="module")
def seen():
    rates = Rates(level1=0.008, level2=0.006, tau=0.2, phi=0.9, sigma=0.5)
    days = np.arange(7, 161, 7)
    sets = lived(8, 1, rates, days, 1) + lived(8, 3, rates, days, 2)
    history = history_of(sets, more={f"F{i}": {"genus": "AB"[i % 2]} for i in range(16)})
    return history, packed(history)


def test_every_queen_lost_counts_once(seen):
    history, exposure = seen
    lost = losses(exposure)
    by_code = history.intervals.groupby("code")["lost"].sum()
    for code, name in enumerate(history.foundings["founding"]):
        (f,) = np.flatnonzero(exposure.foundings["founding"] == name)
        assert lost[f].sum() == pytest.approx(by_code.get(code, 0)), name
    assert lost.sum() > 5
    assert lost[(exposure.foundings["size"] == 1).to_numpy(), :, 1].sum() == 0


def test_the_parts_are_sums_by_genus(seen):
    _, exposure = seen
    lineup = line_up(exposure)
    part = told(lineup, exposure)
    lost = losses(exposure)
    assert part.genus[0].sum() == pytest.approx(lost[:, 0].sum())
    assert part.genus[3].sum() == pytest.approx(lost[:, 1, 1].sum())
    mine = lineup.genus == 1
    assert part.genus[2, 1] == pytest.approx(lost[mine, 1].sum())
    assert part.in_one().size == 6 * 2 + 16 + 7 + 4
    assert part.lean[0] == pytest.approx(np.log2(1.5))
    assert part.lean[1] == pytest.approx(lost[:, 0, 1].sum() / lost[:, 0].sum())
    assert part.lean[3] == 0.5


def test_signs_go_to_what_they_multiply():
    import xarray as xr

    rng = np.random.default_rng(3)
    one = xr.Dataset(
        {
            "frailty_sd_signed": (("chain", "draw"), [[-0.5, 0.3]]),
            "walk_sd_signed": (("chain", "draw", "phase"), [[[0.2, -0.4], [-0.1, 0.6]]]),
            "frailty": (("chain", "draw", "founding"), rng.normal(size=(1, 2, 3))),
            "walk": (("chain", "draw", "step"), rng.normal(size=(1, 2, 7))),
            "frailty_eased": (("chain", "draw", "founding"), np.ones((1, 2, 3))),
        },
        coords={"phase": ["before", "after"]},
    )
    out = unsigned(one)
    assert set(out) == {"frailty_sd", "walk_sd", "frailty", "walk"}
    both = one["frailty_sd_signed"] * one["frailty"]
    assert np.allclose(out["frailty_sd"] * out["frailty"], both)
    assert (out["walk_sd"] >= 0).all()
    sds = one["walk_sd_signed"].to_numpy().repeat([4, 3], axis=2)
    ours = out["walk_sd"].to_numpy().repeat([4, 3], axis=2) * out["walk"].to_numpy()
    assert np.allclose(ours, sds * one["walk"].to_numpy())
    assert not np.allclose(out["walk"], one["walk"])
