"""Priors scaled, and other readings of a study."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
import xarray as xr
from scipy import stats
from small_study import date, small_study

from cohort.comparison import refits
from cohort.history import History, history
from cohort.model import bounds
from cohort.model.design import ModelDesign
from cohort.model.priors import EFFECTS, Priors, draw
from cohort.model.sensitivity import DATA, EVERY, log_priors, prior_sensitivity


def conjugate(prior_sd: float, n: int) -> pd.Series:
    """Power-scaling of a normal mean: prior N(0, prior_sd), n observations of mean 1, SD 1."""
    rng = np.random.default_rng(6)
    precision = 1 / prior_sd**2 + n
    mu = rng.normal(n * 1.0 / precision, 1 / math.sqrt(precision), (4, 1000))
    free = rng.normal(size=(4, 1000))
    coords = {"chain": range(4), "draw": range(1000)}
    y = 1.0 + stats.norm.ppf((np.arange(n) + 0.5) / n)
    loglik = xr.DataArray(
        stats.norm.logpdf(y, mu[..., None], 1.0),
        dims=("chain", "draw", "founding"),
        coords=coords | {"founding": range(n)},
    )
    prior = xr.Dataset(
        {
            "mean": (("chain", "draw"), stats.norm.logpdf(mu, 0, prior_sd)),
            "other": (("chain", "draw"), stats.norm.logpdf(free, 0, 1)),
        },
        coords=coords,
    )
    table = prior_sensitivity({"mu": mu, "free": free}, prior, loglik)
    assert table["number"].tolist() == ["mu", "free"]
    return table.set_index("number").loc["mu"]


def test_who_lives_on_goes_into_winter_as_the_others_did() -> None:
    """A is followed through a winter from day 50 to 150; B and C were given away before and in it.

    B began ten days after A, so by the calendar her winter is from day 40 to 140. The season ends
    on her day 320: 10 warm days from the 30th to the 40th, 180 from the 140th on, 100 cold ones.
    """
    events = [(name, day, word) for name, day, word in (
        ("A", 50, "winter-in"), ("A", 150, "winter-out"), ("C", 50, "winter-in"))]  # fmt: skip
    away = [("B", 30, "queens-out", 1, "given"), ("C", 60, "queens-out", 1, "given")]
    past = history(small_study(
        {"A": "1 | 40 1/0, 160 1/0, 330 1/2", "B": "1 | 30 1/0", "C": "1 | 40 1/0, 60 1/0"},
        [*events, *away], more={"B": {"started": date(10)}},
        through_winter=True, horizon_days=330,
    ))  # fmt: skip
    assert set(past.winters) == {"A", "C"}
    assert past.winters["C"].stops == (math.inf,)
    live = bounds.taken_live(past)
    assert {n: (*r.starts, *r.stops) for n, r in live.winters.items()} == {
        "A": (50, 150), "B": (40, 140), "C": (50, 150),
    }  # fmt: skip
    last = live.intervals.groupby("code").tail(1).set_index("code")[["after", "by"]]
    b = live.foundings["founding"].tolist().index("B")
    assert last.loc[b].tolist() == [30, 320]
    rest = live.winters["B"]
    assert (rest.warm(320) - rest.warm(30), rest.cold(320) - rest.cold(30)) == (190, 100)
    # without winter nothing is altered
    assert bounds.taken_live(replace(past, winters={})).winters == {}


def test_a_prior_rules_over_few_data_and_not_over_many() -> None:
    few, many = conjugate(0.3, 4), conjugate(3.0, 50)
    assert few["mean"] > 0.05 > many["mean"]
    assert few["other"] < 0.05
    assert few[EVERY] > 0.05
    assert many[DATA] > 0.05
    assert many["verdict"] == "the data rule"
    assert "both matter" in few["verdict"]


def design(genera: int = 3, pooled: bool = False) -> ModelDesign:
    names = tuple("ABCDE"[:genera])
    zero = np.zeros(1, np.int64)
    return ModelDesign(
        ("f",), names, zero, zero + 1, zero, np.zeros((5, 7)), np.zeros((4, 7)), pooled
    )


COMMON_NAMES = (
    "size_step", "size_step_rivalry", "within_days", "multi_days", "frailty_sd", "mated", "seen"
)  # fmt: skip


def posterior_of_prior_draws(pooled: bool) -> xr.Dataset:
    drawn = draw(Priors(), 3, 50, np.random.default_rng(1), pooled_fight=pooled)
    out: dict[str, object] = {}
    for i, name in enumerate(EFFECTS):
        out[f"{name}_mean"] = (("chain", "draw"), drawn["genus_mean"][None, :, i])
        out[f"{name}_sd"] = (("chain", "draw"), drawn["genus_sd"][None, :, i])
    for name in COMMON_NAMES:
        out[name] = (("chain", "draw"), drawn[name][None])
    out["walk_sd"] = (("chain", "draw", "phase"), drawn["walk_sd"][None])
    return xr.Dataset(out, coords={"chain": [0], "draw": range(50)})


@pytest.mark.parametrize("pooled", [False, True])
def test_log_priors_are_the_densities_of_the_table(pooled: bool) -> None:
    posterior, priors = posterior_of_prior_draws(pooled), Priors()
    found = log_priors(posterior, design(pooled=pooled), priors)
    at = posterior.isel(chain=0, draw=7)
    rivalry, fight = priors["rivalry"], priors["last_fight"]
    sd = float(at["rivalry_sd"])
    spread = math.sqrt(rivalry.sd**2 + sd**2 / 3)
    want = stats.norm.logpdf(float(at["rivalry_mean"]), rivalry.mean, spread)
    want += math.log(2) + stats.norm.logpdf(sd, 0, rivalry.between)
    assert float(found["rivalry"][0, 7]) == pytest.approx(want)
    sd = float(at["last_fight_sd"])
    spread = fight.sd if pooled else math.sqrt(fight.sd**2 + sd**2 / 3)
    want = stats.norm.logpdf(float(at["last_fight_mean"]), fight.mean, spread)
    want += math.log(2) + stats.norm.logpdf(sd, 0, fight.between)
    assert float(found["last_fight"][0, 7]) == pytest.approx(want)
    p = float(at["mated"])
    assert float(found["mated"][0, 7]) == pytest.approx(stats.beta.logpdf(p, 6.0, 1.5))
    assert set(found.data_vars) == {
        *EFFECTS, *COMMON_NAMES, "walk_sd"
    }  # fmt: skip
    assert all(np.isfinite(found[v]).all() for v in found.data_vars)


def read(lines: dict[str, str], events=(), **more: object) -> History:
    return history(small_study(lines, events, **more))


@pytest.fixture
def mixed() -> History:
    """A given away with one queen; B loses one; C has one queen taken out; D spilt; E whole."""
    return read(
        {
            "A": "1 | 10 1/0, 20 1/0",
            "B": "2 | 10 2/0, 20 1/0, 60 1/0",
            "C": "3 | 10 3/0, 20 3/0, 40 2/0, 60 2/0",
            "D": "1 | 10 1/0, 30 1/0",
            "E": "1 | 10 1/0, 60 1/0",
            "F": "2 | 8 1/0, 30 0/0",
        },
        [("A", 20, "end", None, "given"), ("C", 20, "queens-out", 1, "given"),
         ("D", 30, "end", None, "accident")],
    )  # fmt: skip


def of(past: History, name: str) -> list[tuple[float, ...]]:
    code = past.foundings.index[past.foundings["founding"].eq(name)][0]
    rows = past.intervals[past.intervals["code"].eq(code)]
    columns = ["after", "by", "at_risk", "alive", "lost"]
    return [tuple(float(v) for v in row) for row in rows[columns].to_numpy()]


def row(past: History, name: str) -> pd.Series:
    return past.foundings.set_index("founding").loc[name]


def test_those_taken_out_die_on_the_next_day(mixed: History) -> None:
    other = bounds.taken_die(mixed)
    end = row(mixed, "A")["end"]
    assert of(other, "A")[-1] == (end, end + 1, 1, 0, 1)
    assert row(other, "A")["end_kind"] == "all lost"
    assert (row(other, "A")["lost_after"], row(other, "A")["lost_by"]) == (end, end + 1)
    assert of(other, "C") == [
        (0, 10, 3, 3, 0), (10, 20, 3, 3, 0), (20, 21, 3, 2, 1), (21, 40, 2, 2, 0),
        (40, 60, 2, 2, 0),
    ]  # fmt: skip
    for name in "BEF":
        assert of(other, name) == of(mixed, name)
    assert of(other, "D")[-1][3] == 0


def test_those_taken_out_live_to_the_last_day(mixed: History) -> None:
    other = bounds.taken_live(mixed)
    end = row(mixed, "A")["end"]
    assert of(other, "A")[-1] == (end, 60, 1, 1, 0)
    assert row(other, "A")["end_kind"] == "followed"
    assert of(other, "C")[-2:] == [(20, 40, 3, 3, 0), (40, 60, 3, 3, 0)]
    assert of(other, "B") == of(mixed, "B")
    assert row(other, "F")["end_kind"] == "all lost"
    assert other.intervals["lost"].sum() == mixed.intervals["lost"].sum()


def test_losses_midway_keep_their_number_and_lose_their_bracket(mixed: History) -> None:
    other = bounds.dated_midway(mixed)
    assert of(other, "B") == [
        (0, 10, 2, 2, 0), (10, 14.5, 2, 2, 0), (14.5, 15.5, 2, 1, 1), (15.5, 20, 1, 1, 0),
        (20, 60, 1, 1, 0),
    ]  # fmt: skip
    assert of(other, "F")[-1] == (18.5, 19.5, 1, 0, 1)
    assert row(other, "F")["end"] == 19.5
    assert of(other, "E") == of(mixed, "E")
    held = [(p.intervals["at_risk"] * (p.intervals["by"] - p.intervals["after"])).sum()
            for p in (mixed, other)]  # fmt: skip
    assert held[1] < held[0]


def test_exclusions_take_out_the_right_foundings(mixed: History) -> None:
    def gone(other: History) -> set[str]:
        here = mixed.foundings["compared"] & ~other.foundings["compared"]
        return set(mixed.foundings.loc[here, "founding"])

    assert gone(bounds.without_accidents(mixed)) == {"D"}
    assert gone(bounds.without_first_look(mixed)) == {"F"}
    outside = replace(mixed, foundings=mixed.foundings.assign(
        left_out=["mites", *[""] * 5], compared=[False, *[True] * 5]))  # fmt: skip
    assert bounds.with_left_out(outside).foundings["compared"].all()


def test_every_reading_can_be_packed_and_weighed(mixed: History) -> None:
    from cohort.likelihood.exposure import packed

    plain = packed(mixed)
    for name, (_, make) in bounds.READINGS.items():
        made = make(mixed)
        spans = made.intervals
        assert (spans["by"] > spans["after"]).all(), name
        assert (spans["alive"] <= spans["at_risk"]).all(), name
        follows = spans.groupby("code").apply(
            lambda part: bool((part["after"].to_numpy()[1:] == part["by"].to_numpy()[:-1]).all()),
            include_groups=False,
        )
        assert follows.all(), name
        assert np.isfinite(packed(made).records).all(), name
    assert len(plain.records) == 6


def test_a_reading_that_changes_nothing_is_known() -> None:
    still = read({"A": "1 | 10 1/0, 20 1/3", "B": "2 | 10 2/0, 20 2/1"})
    for name, (_, make) in bounds.READINGS.items():
        assert refits.unchanged(make(still), still), name
    lossy = read({"A": "1 | 10 1/0, 20 1/3", "B": "2 | 10 2/0, 20 1/1"})
    assert not refits.unchanged(bounds.dated_midway(lossy), lossy)
