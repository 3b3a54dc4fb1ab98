"""Our numbers in the form of the other program's, and both beside each other.

`agreement` joins them: ours, theirs, Monte Carlo standard errors, difference in such errors.
``python tests/against/beside_stan.py`` fits the studies and writes the tables of agreement.
"""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pandas as pd
import xarray as xr
from arviz_stats.base import array_stats

from cohort.history import History
from cohort.model.design import ModelDesign
from cohort.model.kernel_arrays import shared_of, stacked
from cohort.model.priors import Priors
from cohort.model.sample import Fit, prepare, sample
from cohort.outcomes import Outcomes, outcomes, posterior_draws

HERE = Path(__file__).parent / "whole_model"
SEED, DRAWS = 20261129, 3000
LOGS = ("hazard_ratio", "time_ratio", "rivalry_ratio")
"""Quantities whose logs are averaged, as their mean is printed."""
BEFORE, AFTER = (1, 2, 4, 5), (2, 3, 4)
"""Pieces of the hazards whose level is not 0 by definition."""


def error_of(values: np.ndarray) -> float:
    """Monte Carlo standard error of a mean; values (chain, draw)."""
    ess = array_stats.ess(values[None], chain_axis=1, draw_axis=2, method="mean")[0]
    return float(values.std(ddof=1) / math.sqrt(ess))


def named(fit: Fit) -> dict[str, np.ndarray]:
    """Every parameter of a fit as (chain, draw), steps of the walk as levels of the pieces."""
    posterior, out = fit.posterior, {}
    shape = posterior.sizes["chain"], posterior.sizes["draw"]
    for name, array in posterior.data_vars.items():
        if name == "walk":
            continue
        values = array.transpose("chain", "draw", ...)
        if values.ndim == 2:
            out[str(name)] = values.to_numpy()
            continue
        for i, label in enumerate(values[values.dims[2]].to_numpy()):
            out[f"{name}[{label}]"] = values[..., i].to_numpy()
    shared = shared_of(stacked(posterior), fit.design)
    for i in BEFORE:
        out[f"level_before[{i}]"] = shared[:, i - 1].reshape(shape)
    for i in AFTER:
        out[f"level_after[{i}]"] = shared[:, 5 + i - 1].reshape(shape)
    return out


def parameters(fit: Fit) -> pd.DataFrame:
    """Mean, SD, 5 and 95 % points and Monte Carlo error of every parameter, by name."""
    rows = {
        name: (v.mean(), v.std(ddof=1), error_of(v), *np.quantile(v, [0.05, 0.95]))
        for name, v in named(fit).items()
        if v.std() > 1e-12
    }
    columns = ["mean", "sd", "mcse", "low", "high"]
    return pd.DataFrame.from_dict(rows, orient="index", columns=columns).rename_axis("name")


KEY = ["quantity", "reading", "day", "queens", "genus"]


def outcome_rows(post: Outcomes, chains: int) -> pd.DataFrame:
    """Mean, SD and Monte Carlo error of every printed outcome, keyed as the other program's."""
    rows = []
    for key, values in post.values.items():
        for genus, own in zip(post.kinds, np.asarray(values).T, strict=True):
            own = np.log(own) if key.quantity in LOGS else own
            by_chain = own.reshape(chains, -1)
            error = error_of(by_chain) if own.std() > 1e-12 else 0.0
            day = f"{key.day:g}" if math.isfinite(key.day) else ""
            line = (key.quantity, key.reading, day, str(key.size), str(genus))
            rows.append((*line, own.mean(), own.std(ddof=1), error))
    return pd.DataFrame(rows, columns=[*KEY, "mean", "sd", "mcse"]).set_index(KEY)


def theirs(study: str, table: str) -> pd.DataFrame:
    """A table the other program wrote."""
    words = dict.fromkeys(KEY, str)
    own = pd.read_csv(
        HERE / study / f"{table}.csv", comment="#", dtype=words, keep_default_na=False
    )
    return own.set_index(KEY if table == "outcomes" else "name")


def agreement(ours: pd.DataFrame, other: pd.DataFrame) -> pd.DataFrame:
    """Rows both have: means, combined Monte Carlo error, and the difference counted in it."""
    both = ours.join(other, how="inner", lsuffix="_ours", rsuffix="_theirs")
    error = np.hypot(both["mcse_ours"], both["mcse_theirs"])
    both["difference"] = both["mean_ours"] - both["mean_theirs"]
    both["errors"] = both["difference"] / error
    return both


def as_posterior(wide: pd.DataFrame, design: ModelDesign) -> xr.Dataset:
    """Draws of the other program under our names: one chain; ``wide`` has a row per parameter.

    The levels of the pieces go back to steps of a walk with SD 1.
    """
    out: dict[str, tuple[tuple[str, ...], np.ndarray]] = {}
    several: dict[str, list[str]] = {}
    for name in wide.index:
        head, _, label = name.partition("[")
        several.setdefault(head, []).append(label.rstrip("]"))
    place = ("chain", "draw")
    dims = {"walk_sd": "phase", "frailty": "founding"}
    coords: dict[str, list[str]] = {}
    draws = wide.shape[1]
    for head, labels in several.items():
        if head.startswith("level_"):
            continue
        if labels == [""]:
            out[head] = place, wide.loc[head].to_numpy(float)[None]
            continue
        dim = dims.get(head) or next(
            (n for n in design.levels if head.startswith(f"{n}_")), "genus"
        )
        values = np.stack([wide.loc[f"{head}[{x}]"].to_numpy(float) for x in labels], axis=-1)
        out[head], coords[dim] = ((*place, dim), values[None]), labels
    level = {name: wide.loc[name].to_numpy(float) for name in wide.index if "level" in name}
    walk = np.zeros((1, draws, 7))
    first, second = level["level_before[1]"], level["level_before[2]"]
    walk[0, :, 0], walk[0, :, 1] = second - first, -second
    walk[0, :, 2] = level["level_before[4]"]
    walk[0, :, 3] = level["level_before[5]"] - level["level_before[4]"]
    walk[0, :, 4] = level["level_after[2]"]
    walk[0, :, 5] = level["level_after[3]"] - level["level_after[2]"]
    walk[0, :, 6] = level["level_after[4]"] - level["level_after[3]"]
    out["walk"] = (*place, "step"), walk
    out["walk_sd"] = (*place, "phase"), np.ones((1, draws, 2))
    return xr.Dataset(out, coords=coords)


def fitted(past: History) -> tuple[Fit, Outcomes]:
    """Our posterior of a study, and the outcomes of 1,000 of its draws."""
    design, exposure = prepare(past)
    fit = sample(design, exposure, Priors(), seed=SEED, draws=DRAWS, tune=600, accept=0.95)
    drawn = posterior_draws(fit.posterior, design, fit.priors, seed=fit.seed)
    sizes = tuple(sorted({1, *design.size.tolist()}))
    return fit, outcomes(drawn, sizes, past.horizon)


def main() -> None:
    import plain_export

    for study in ("simulated", "demo"):
        fit, post = fitted(plain_export.STUDIES[study]())
        mine = {"parameters": parameters(fit), "outcomes": outcome_rows(post, post.chains)}
        for name, own in mine.items():
            table = agreement(own, theirs(study, name))
            table.round(6).to_csv(HERE / study / f"agreement_{name}.csv")
            worst = table["errors"].abs().max()
            print(study, name, len(table), "rows; largest difference in errors", round(worst, 2))


if __name__ == "__main__":
    main()
