"""Seasons still going on: a simulated season cut at a day, and the true parameters as its draws."""

import functools
import tempfile
from dataclasses import replace
from pathlib import Path
from unittest import mock

import numpy as np
import pandas as pd

from cohort.forecast import due
from cohort.outcomes.basis import Basis
from cohort.outcomes.known import known_draws
from cohort.simulate import season as season_module
from cohort.simulate.design import Design
from cohort.simulate.season import simulate_study
from cohort.simulate.truth import draw_truth
from cohort.study import read_study

HORIZON = 180


def as_basis(truth):
    """The true parameters as the one draw of a basis."""
    return Basis(known_draws([truth]), (), True, sizes=(1, 2, 3, 4))


def cut(simulated, day):
    """The study as its sheets stood on a day."""
    sheets = dict(simulated.sheets)
    for name, column in (
        ("foundings.csv", "started"),
        ("checks.csv", "date"),
        ("events.csv", "date"),
    ):
        if name in sheets:
            frame = sheets[name]
            sheets[name] = frame[pd.to_datetime(frame[column]) <= day]
    with tempfile.TemporaryDirectory() as place:
        replace(simulated, sheets=sheets).write(Path(place) / "study")
        return read_study(Path(place) / "study", today=day.date())


def season(seed, *, foundings=24, sizes=(1, 3), seen=0.0):
    """Truth, sheets, a day in mid season, and every death by founding (days since day 0)."""
    rng = np.random.default_rng([seed, 5])
    truth = draw_truth(("Lasius", "Messor", "Formica"), rng)
    truth = replace(truth, level_sds={})
    design = Design(
        foundings=foundings,
        sizes=sizes,
        look_every=5,
        calendar="irregular",
        flight_span=20,
        seen=seen,
        horizon=HORIZON,
    )
    day = pd.Timestamp(design.first_flight) + pd.Timedelta(int(rng.integers(25, 110)), unit="D")
    kept = {}
    table = season_module._fate_table

    def keep(plan, fates, horizon):
        kept.update(zip(plan["founding"], fates.deaths, strict=True))
        return table(plan, fates, horizon)

    with mock.patch.object(season_module, "_fate_table", keep):
        simulated = simulate_study(design, truth, seed)
    return truth, simulated, day, kept


def days_of(dates, started):
    """Dates as days since a founding began."""
    return (pd.to_datetime(dates) - pd.to_datetime(started)).dt.days


@functools.cache
def _made(seed, seen):
    truth, simulated, day, deaths = season(seed, seen=seen)
    return truth, simulated, day, deaths, cut(simulated, day)


def said_and_was(seeds, *, change=lambda basis: basis, seen=0.0):
    """What was forecast of each founding of many seasons, and what came of it.

    Returns two frames: waits (none_this_season, came, day, low90 ... high90 as days since day 0)
    and groups (lose_one_14, lose_all_14, lost_one, lost_all).
    """
    waits, groups = [], []
    for seed in seeds:
        truth, simulated, day, deaths, study = _made(seed, seen)
        what = due(study, day.date(), change(as_basis(truth)))
        fates = simulated.fates.set_index("founding")
        begun = simulated.sheets["foundings.csv"].set_index("founding")["started"]
        own = what.windows.copy()
        for name in ("low90", "low50", "high50", "high90"):
            own[name] = days_of(own[name], own["started"])
        own = own.drop(columns=["middle", "started", "last_day"])
        own["day"] = own["founding"].map(fates["first_worker"])
        own["came"] = own["day"] <= HORIZON
        waits.append(own.assign(seed=seed))
        crowd = what.groups.copy()
        left = []
        for name, queens in zip(crowd["founding"], crowd["queens"], strict=True):
            until = (day - pd.Timestamp(begun[name])).days + 14
            mine = deaths[name]
            size = int(fates.loc[name, "queens"])
            left.append((queens, size - int((mine <= until).sum())))
        crowd["lost_one"] = [after < before for before, after in left]
        crowd["lost_all"] = [after == 0 for _, after in left]
        groups.append(crowd.assign(seed=seed))
    return pd.concat(waits, ignore_index=True), pd.concat(groups, ignore_index=True)


def in_bins(said, was, edges=None):
    """Ten bins of a forecast chance: how many, what was said, what came."""
    edges = np.linspace(0, 1, 11) if edges is None else edges
    where = np.clip(np.digitize(said, edges) - 1, 0, len(edges) - 2)
    return (
        pd.DataFrame({"bin": where, "said": said, "was": was})
        .groupby("bin")
        .agg(count=("said", "size"), said=("said", "mean"), was=("was", "mean"))
    )


def off(said, was):
    """Standard errors by which the total of what came lies off the total said."""
    said, was = np.asarray(said, float), np.asarray(was, float)
    return (was.sum() - said.sum()) / np.sqrt((said * (1 - said)).sum())
