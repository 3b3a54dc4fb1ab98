"""Covariates, from the sheet to their slopes, in a season in which their effects are known."""

from __future__ import annotations

import math

import numpy as np
import pytest

from cohort.history import history
from cohort.model.asked import fit
from cohort.simulate.design import Design
from cohort.simulate.season import simulate_study
from cohort.simulate.truth import GenusTruth, Truth
from cohort.study import read_study

pytestmark = pytest.mark.slow

SHARED = {"within_days": 0.15, "mated": 0.9, "frailty": 0.3, "rivalry": 1.0}
OWN = {
    "Lasius": GenusTruth(log_hazard=math.log(0.012), log_median_day=math.log(42.0), **SHARED),
    "Messor": GenusTruth(log_hazard=math.log(0.010), log_median_day=math.log(55.0), **SHARED),
}
# About 180 queens of 480 die before workers: a standard error near 0.15 of the first slope.
SLOPES = {"before": {"housing: box": 0.7}, "first_worker": {"housing: box": 0.2}}
ADJUST = 'adjust = {before = ["housing"], first_worker = ["housing"]}\n'


def slopes_of(folder, *, mixed_up: bool) -> dict[str, np.ndarray]:
    """Draws of the slopes, of a box against a test tube, by the part that they move."""
    design = Design(foundings=240, keepers=4, covariates={"housing": ("test-tube", "box")})
    simulate_study(design, Truth(OWN, slopes=SLOPES), 11).write(folder)
    with (folder / "study.toml").open("a", encoding="utf-8") as file:
        file.write(ADJUST)
    if mixed_up:
        sheet = folder / "foundings.csv"
        head, *rows = sheet.read_text("utf-8").splitlines()
        words = [row.rpartition(",")[2] for row in rows]
        assert head.endswith(",housing")
        words = np.random.default_rng(12).permutation(words)
        rows = [f"{row.rpartition(',')[0]},{word}" for row, word in zip(rows, words, strict=True)]
        sheet.write_text("\n".join([head, *rows]) + "\n", "utf-8")
    study = read_study(folder)
    found = fit(history(study), seed=13, adjust=study.settings.adjust, draws=500)
    out = {}
    for part in SLOPES:
        draws = found.posterior[f"slope_{part}"]
        (name,) = draws[f"covariate_{part}"].to_numpy().tolist()
        sign = {"housing: box v test-tube": 1.0, "housing: test-tube v box": -1.0}[name]
        out[part] = sign * draws.to_numpy().ravel()
    return out


def test_slopes_are_found_and_vanish_when_the_column_is_mixed_up(tmp_path):
    found = slopes_of(tmp_path / "as-it-was", mixed_up=False)
    mixed = slopes_of(tmp_path / "mixed-up", mixed_up=True)
    for part, slopes in SLOPES.items():
        (truth,) = slopes.values()
        low, high = np.quantile(found[part], [0.01, 0.99])
        assert low < truth < high, part
        assert np.mean(found[part] > 0) > 0.95, part
        assert 0.005 < np.mean(mixed[part] > 0) < 0.995, part
        assert not np.quantile(mixed[part], 0.01) < truth < np.quantile(mixed[part], 0.99), part
