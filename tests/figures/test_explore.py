"""The gallery for analysts runs on a small folder of results and writes what it says."""

from __future__ import annotations

import dataclasses
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
import xarray as xr
from PIL import Image

from cohort import results as store
from cohort.results import headline_draws

SCRIPT = Path(__file__).parents[2] / "analyses" / "explore.py"
ALWAYS = {
    "relplot-curves.png", "displot-first-worker.png", "catplot-losses.png", "objects-brackets.png"
}  # fmt: skip
OF_DRAWS = {"ecdfplot-draws.png", "pairplot-parameters.png"}


@pytest.mark.parametrize("kept", [True, False])
def test_the_gallery_is_drawn(demo, tmp_path, kept):
    tree = None
    if kept:
        rng = np.random.default_rng(3)
        post = xr.Dataset(
            {name: (("chain", "draw"), rng.normal(size=(2, 30)))
             for name in ("together_mean", "rivalry_mean")}
        )  # fmt: skip
        draws = {"posterior": rng.normal(size=(40, 2)) / 5, "prior": rng.normal(size=(30, 2)) / 2}
        data = headline_draws.as_dataset(draws, ["Lasius", "average"], 3, [180, 180])
        tree = xr.DataTree.from_dict({"posterior": post, headline_draws.GROUP: data})
    run = dict(horizon=180, seed=1, level=0.9, versions=store.versions(), sheets={})
    store.write(tmp_path / "out", dataclasses.replace(demo.results, run=run), tree)
    done = subprocess.run(
        [sys.executable, str(SCRIPT), str(tmp_path / "out"), str(tmp_path / "gallery")],
        capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    assert "Warning" not in done.stderr
    assert ("No draws of the contrast" in done.stdout) == (not kept)
    paths = sorted((tmp_path / "gallery").iterdir())
    assert {p.name for p in paths} == ALWAYS | (OF_DRAWS if kept else set())
    for path in paths:
        with Image.open(path) as plot:
            assert len(plot.convert("RGB").getcolors(1 << 20)) > 20  # no blank sheet
