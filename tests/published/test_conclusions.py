"""Comparisons conclude what four published experiments did, and not where it is not true.

``data/published/conclusions.csv`` is made by ``analyses/published_designs.py`` (a quarter of an
hour of one core); what was read of each paper and what is ours stands beside it. Here the committed
table is held against the papers' conclusions; against the model as it is in
``tests/calibrate/test_conclusions_fresh.py``.
"""

import json
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from cohort.calibrate import published as counting
from cohort.calibrate.published import conclusions, drawn, toward, write_conclusions
from cohort.sheets import written
from cohort.simulate.published import EFFECTS, EXPERIMENTS, Claim
from cohort.simulate.scenario import broken_study
from cohort.study import read_study

FOLDER = Path(__file__).parents[2] / "data" / "published"
WORDS = ["clearly", "expected", "leans", "same", "open"]
LEAST = 12
OTHERS = 6
POINTS = 0.9
"""Share of the studies whose middle points the paper's way, at least."""
SURE = 0.35
"""Share that is as sure of it, at least: the designs are small, and one paper tells no size."""
BY_CHANCE = 0.34
"""Share that may conclude it where there is no effect: two of six."""


def read():
    return written.read(FOLDER / "conclusions.csv", "conclusions")


def faults(table):
    """What of the table the papers contradict."""
    out = []
    for row in table.itertuples():
        about = (row.experiment, row.finding, row.quantity, row.effect)
        if row.settled < (LEAST if row.effect == "published" else OTHERS):
            out.append((*about, "too few studies"))
        elif row.effect == "published":
            if row.toward < POINTS * row.settled:
                out.append((*about, "points another way"))
            if row.drawn < SURE * row.settled:
                out.append((*about, "not concluded"))
        elif not row.holds and row.drawn > (BY_CHANCE if row.effect == "none" else 0) * row.settled:
            out.append((*about, "concluded though not true"))
    return out


def test_every_conclusion_is_drawn_where_it_is_true_and_only_there():
    table = read()
    assert faults(table) == []
    assert set(table["experiment"]) == set(EXPERIMENTS)
    for name, part in table.groupby("experiment"):
        for effect in EFFECTS:
            of = part[part["effect"] == effect]
            claims = EXPERIMENTS[name].claims
            assert of["finding"].tolist() == [claim.row for claim in claims]
            assert of["concluded"].tolist() == [claim.found for claim in claims]
            assert of["holds"].tolist() == [effect not in claim.wrong for claim in claims]


@pytest.mark.parametrize("other", ["none", "reversed"])
def test_a_design_with_another_effect_would_be_found_out(other):
    """The same rules, the studies with another effect put in the place of the published one."""
    table = read()
    claimed = table[table["effect"] == "published"]
    false = table[(table["effect"] == other) & ~table["holds"].astype(bool)]
    false = false.assign(effect="published", settled=false["settled"] + LEAST - OTHERS)
    wrong = {(e, q) for e, _, q, _, why in faults(false) if why == "not concluded"}
    asked = {(row.experiment, row.quantity) for row in false.itertuples()}
    assert wrong == asked
    assert asked <= {(row.experiment, row.quantity) for row in claimed.itertuples()}


def test_words_are_those_of_the_verdict_and_lots_hold_them_back():
    """Paired queens nested by themselves: however sure, the word is never "clearly"."""
    table = read()
    contrasts = table[table["concluded"].isin(("multi", "single", "same"))]
    assert (contrasts[WORDS].sum(axis=1) == contrasts["settled"]).all()
    assert (table.loc[~table.index.isin(contrasts.index), WORDS] == 0).all(axis=None)
    own = contrasts[contrasts["experiment"] == "scutellaris"]
    assert own["clearly"].sum() == 0
    assert own.loc[own["effect"] == "published", "drawn"].sum() > 0
    others = contrasts[contrasts["experiment"] != "scutellaris"]
    assert others.loc[others["effect"] == "published", "clearly"].sum() > 0


def test_sizes_that_are_printed_are_found_again():
    """4.3 days and 8 % of row 24 lie in the middle range; so do ratios that were worked out."""
    table = read()
    true = table[table["effect"] == "published"].set_index(["experiment", "quantity"])
    for at, wanted in (
        (("smaragdina", "median_day"), -4.3),
        (("smaragdina", "time_ratio"), 0.92),
        (("scutellaris", "hazard_ratio"), 3.2),
        (("californicus", "hazard_ratio"), 1 / 3),
        (("two-kinds", "rivalry_ratio"), 0.0107 / 0.0025),
    ):
        row = true.loc[at]
        assert row["low"] < wanted < row["high"], at


# --- how it is counted ----------------------------------------------------------------------------

BETTER = Claim(1, "hazard_ratio", 2, "multi", "together is better")


def said(chance, word="leans"):
    return {"mean": 1.0, "low": 0.5, "high": 2.0, "chance": chance, "word": word}


@pytest.mark.parametrize(
    ("found", "chance", "way", "sure"),
    [
        ("multi", 0.96, True, True),
        ("multi", 0.90, True, False),
        ("multi", 0.04, False, False),
        ("single", 0.04, True, True),
        ("single", 0.30, True, False),
        ("single", 0.96, False, False),
        ("same", 0.50, True, True),
        ("same", 0.97, False, False),
        ("same", 0.02, False, False),
    ],
)
def test_a_contrast_is_concluded_by_its_chance(found, chance, way, sure):
    claim = Claim(1, "hazard_ratio", 2, found, "")
    assert toward(claim, said(chance)) is way
    assert drawn(claim, said(chance)) is sure


@pytest.mark.parametrize(
    ("found", "line", "way", "sure"),
    [("above", 0.4, True, True), ("above", 0.9, True, False), ("above", 1.5, False, False),
     ("below", 2.5, True, True), ("below", 1.2, True, False), ("below", 0.9, False, False)],
)  # fmt: skip
def test_a_number_is_concluded_by_its_range(found, line, way, sure):
    claim = Claim(1, "rivalry_ratio", 2, found, "", "Lasius", line)
    assert toward(claim, said(0.5)) is way
    assert drawn(claim, said(0.5)) is sure


def test_studies_are_counted_and_written(tmp_path, monkeypatch):
    monkeypatch.setattr(counting, "fingerprint", lambda task: {"log_prior, study 1": 1.0})
    monkeypatch.setenv("SOURCE_DATE_EPOCH", "1790000000")
    one = EXPERIMENTS["smaragdina"]
    for effect, chances in {"published": (0.99, 0.7), "none": (0.5,), "reversed": ()}.items():
        folder = tmp_path / "studies" / one.name / effect
        folder.mkdir(parents=True)
        for seed, chance in enumerate(chances, 1):
            claims = [said(chance, "clearly" if chance > 0.95 else "open")] * len(one.claims)
            text = {"seed": seed, "settled": True, "claims": claims, "seconds": 2.0}
            (folder / f"study-{seed:05d}.json").write_text(json.dumps(text))
    table = conclusions(tmp_path / "studies", [one])
    row = table.iloc[0]
    assert (row["studies"], row["toward"], row["drawn"], row["clearly"], row["open"]) == (
        2, 2, 1, 1, 1,
    )  # fmt: skip
    assert (table["effect"] == "none").sum() == len(one.claims)
    none = table[table["effect"] == "reversed"].iloc[0]
    assert none["studies"] == 0
    assert np.isnan(none["mean"])
    write_conclusions(tmp_path / "studies", tmp_path / "out", [one])
    back = written.read(tmp_path / "out" / "conclusions.csv", "conclusions")
    assert back["drawn"].tolist() == table["drawn"].tolist()
    kept = json.loads((tmp_path / "out" / "conclusions.json").read_text())
    assert kept["date"] == "2026-09-21"
    assert kept["seconds"] == 6
    assert set(kept["experiments"][one.name]) == {"paper", "read", "ours", "concluded"}


# --- the designs are those of the papers ----------------------------------------------------------


@pytest.mark.parametrize(
    ("name", "counts", "days"),
    [
        # Masoni et al.: 26 pairs and 15 single queens (R, an earlier report of the same authors)
        ("scutellaris", {("Crematogaster", 1): 15, ("Crematogaster", 2): 26}, 73),
        # Stukalyuk et al. 2024: 8 groups of 5 and 8 of 3, 9 of 5 (R); single queens are ours
        ("two-kinds", {("Lasius", 1): 8, ("Lasius", 3): 8, ("Lasius", 5): 8,
                       ("Solenopsis", 1): 8, ("Solenopsis", 5): 9}, 293),
    ],
)  # fmt: skip
def test_sheets_have_the_groups_of_the_paper(name, counts, days, tmp_path):
    study = read_study(
        broken_study(EXPERIMENTS[name].worlds["published"], 1).write(tmp_path / "study")
    )
    assert study.settings.horizon_days == days
    sizes = study.foundings.groupby(["genus", "queens"]).size()
    assert {key: int(n) for key, n in sizes.items()} == counts
    checks = study.checks.merge(study.foundings[["founding", "genus", "started"]], on="founding")
    last = (pd.to_datetime(checks["date"]) - pd.to_datetime(checks["started"])).dt.days
    if name == "two-kinds":  # S. fugax was followed for 115 days, L. paralienus for up to 293
        assert last[checks["genus"] == "Solenopsis"].max() <= 115
        assert last[checks["genus"] == "Lasius"].max() == 293
    else:
        assert last.max() == days
