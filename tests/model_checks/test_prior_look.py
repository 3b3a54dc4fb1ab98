"""The priors alone: sober on workers before winter, and what they lean to is known."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pandas as pd
import pytest

from cohort.model.priors import EFFECTS, Priors
from cohort.outcomes.alone import (
    LEAST,
    basis,
    draws_of,
    lineup_alone,
    prior_outcomes,
    said,
    sober_share,
)
from cohort.outcomes.quantities import colony


def test_four_of_five_draws_are_sober() -> None:
    """Section 2 of the statistics: 40-95 % of singles with workers in at least 80 % of draws."""
    alone = prior_outcomes(seed=3, sizes=(1,), draws=1500)
    assert sober_share(alone, 180) >= LEAST
    wild = Priors().but(mated={"a": 1.0, "b": 3.0})
    assert sober_share(prior_outcomes(wild, seed=3, sizes=(1,), draws=500), 180) < LEAST


def test_the_priors_lean_to_groups_per_founding_and_to_singles_per_queen() -> None:
    """Section 2: chance that several do better .80-.91 per founding and .02-.07 per queen."""
    alone = prior_outcomes(seed=3, sizes=(1, 3), draws=1500)
    lasting = [draws_of(alone, colony(k, 180, "seen")) for k in (1, 3)]
    assert 0.7 < (lasting[1] > lasting[0]).mean() < 0.95
    table = said(alone).set_index("quantity")
    count = table.loc["same_queens_count"]
    count = count[count["day"] == 180].set_index("reading")["chance_multi_better"]
    assert count["mated-first"] < count["alike"] < count["seen"] < 0.12
    assert (table["p05"] <= table["p95"]).all()
    assert pd.isna(table.loc["queen_days", "chance_multi_better"]).all()


def test_every_prior_bears_its_basis() -> None:
    table = basis()
    assert (table["basis"].str.len() > 10).all()
    assert (table["meaning"].str.len() > 10).all()
    assert table["parameter"].head(len(EFFECTS)).tolist() == list(EFFECTS)
    assert set(table["parameter"]) == set(Priors().by_name)


def test_all_steps_of_the_hazards_are_in() -> None:
    lineup = lineup_alone(3)
    assert len(lineup.genera) == 3
    assert (abs(lineup.steps1).sum(axis=0) + abs(lineup.steps2).sum(axis=0) > 0).all()


@pytest.mark.slow
def test_the_script_runs(tmp_path: Path) -> None:
    script = Path(__file__).parents[2] / "analyses" / "prior_look.py"
    done = subprocess.run(
        [sys.executable, str(script), str(tmp_path), "--draws", "200"],
        capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    assert {p.name for p in tmp_path.iterdir()} == {
        "priors.csv", "said-by-the-priors.csv", "priors.png"
    }  # fmt: skip
