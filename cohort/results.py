"""The output folder: written once, read by everything that comes after.

Comes in: frames and draws of a comparison. Goes out: files of the contract (`write`), and frozen
`Results` again (`read`), the only way back. Never: a computation, an import of a sampler.
"""

from __future__ import annotations

import json
import platform
from collections.abc import Iterable, Mapping
from dataclasses import asdict, dataclass, fields
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import numpy as np
import pandas as pd

from cohort.counts import raw_table
from cohort.errors import StudyError
from cohort.model.lineup import Lineup
from cohort.model.priors import GenusPrior, Priors
from cohort.sheets import written
from cohort.shown import Facts, Shown, several
from cohort.terms.questions import AVERAGE

if TYPE_CHECKING:
    import xarray as xr

    from cohort.model.sample import Fit

OURS: Final = "run.json"
"""A folder that holds this file is one of ours and may be written again."""
PACKAGES: Final = ("numpy", "pandas", "scipy", "numba", "nutpie", "arviz-stats", "xarray")


@dataclass(frozen=True, repr=False)
class Results(Shown):
    """What a comparison found, frozen.

    Attributes
    ----------
    comparisons : DataFrame
        The long table; empty when the gate is shut.
    curves : DataFrame
        Curves without a model, and the model's own (``model_...``) where it settled.
    foundings : DataFrame
        One derived row per founding.
    raw : DataFrame
        Counts by kind and way, see `cohort.counts.raw_table`.
    diagnosis : dict
        ``settled``, what it was judged by, ``reasons``, ``notes``, ``headline`` (group size).
    run : dict
        Versions, seed, sheets with their sha256.
    folder : Path or None
        Where it lies, when it was read or written.
    """

    comparisons: pd.DataFrame
    curves: pd.DataFrame
    foundings: pd.DataFrame
    raw: pd.DataFrame
    diagnosis: dict[str, Any]
    run: dict[str, Any]
    folder: Path | None = None

    @property
    def settled(self) -> bool:
        """True when the comparison may be printed."""
        return bool(self.diagnosis.get("settled", False))

    def facts(self) -> tuple[str, Facts]:
        """Whether the comparison settled, and the same queens both ways."""
        title = f"Results: {self.run.get('title') or 'without a title'}"
        compared = int(self.foundings["compared"].sum())
        facts = {"foundings compared": f"{compared:,}", "settled": "yes" if self.settled else "no"}
        if not self.settled:
            return title, facts | {"why": "; ".join(self.diagnosis.get("reasons", ()))}
        size = int(self.diagnosis["headline"])
        table = self.comparisons
        mine = table["genus"].eq(AVERAGE) & table["queens"].eq(size)
        last = table[mine & table["quantity"].eq("same_queens_count")].nlargest(1, "day")
        for row in last.itertuples():
            facts[f"colonies on day {row.day}, {size} queens together less the same singly"] = (
                f"{row.mean:+.2f} ({row.level:.0%}: {row.low:+.2f} to {row.high:+.2f}), all kinds"
            )
        return title, facts | {"numbers": f"{several(len(table), 'row')} in .comparisons"}


def versions() -> dict[str, str]:
    """Versions of Python, of this package and of what computes for it."""
    out = {"python": platform.python_version()}
    for name in ("founding-cohort", *PACKAGES):
        try:
            out[name] = version(name)
        except PackageNotFoundError:
            out[name] = "not installed"
    return out


def check_folder(folder: Path) -> None:
    """Refuse a folder that holds what is not ours, before any long work.

    Raises
    ------
    StudyError
        The folder has files but no `OURS`, or is a file.
    """
    if folder.is_file():
        raise StudyError(f"{folder} is a file; name a folder for the results.")
    if folder.is_dir() and any(folder.iterdir()) and not (folder / OURS).exists():
        raise StudyError(
            f"{folder} holds files that are not results of this program. Name a new folder, so "
            "that nothing of yours is overwritten."
        )


def tree_of(
    fit: Fit,
    log_likelihood: xr.DataArray | None,
    run: Mapping[str, Any],
    extra: Mapping[str, xr.Dataset] | None = None,
) -> xr.DataTree:
    """Draws as a DataTree with named dimensions, as ArviZ reads them.

    Parameters
    ----------
    fit : Fit
    log_likelihood : DataArray, optional
        Dimensions chain, draw, founding; the frailty integrated out.
    run : dict
        Becomes attributes, as JSON.
    extra : dict of Dataset
        Further groups.
    """
    import xarray as xr

    lineup = fit.lineup
    constant = xr.Dataset(
        {
            "genus_of_founding": ("founding", list(np.array(lineup.genera)[lineup.genus])),
            "size": ("founding", lineup.size),
            "steps_before": (("piece_before", "step"), lineup.steps1),
            "steps_after": (("piece_after", "step"), lineup.steps2),
            "covariate_rows": (("founding", "covariate"), lineup.x),
            "on_degree_days": ("founding", lineup.logged.astype(np.int8)),
        },
        coords={"founding": list(lineup.foundings), "covariate": list(lineup.covariates)},
        attrs={
            "pooled_fight": int(lineup.pooled_fight),
            "variant": lineup.variant,
            "warm_reference": lineup.reference,
        },
    )
    groups: dict[str, xr.Dataset] = {
        "posterior": fit.posterior,
        "sample_stats": fit.stats,
        "constant_data": constant,
    }
    if log_likelihood is not None:
        groups["log_likelihood"] = xr.Dataset({"founding_loglik": log_likelihood})
    groups |= dict(extra or {})
    tree = xr.DataTree.from_dict(groups)
    tree.attrs = {
        "priors": json.dumps(asdict(fit.priors)),
        "seed": fit.seed,
        "run": json.dumps(dict(run), default=str),
    }
    return tree


def write(folder: Path, results: Results, tree: xr.DataTree | None = None) -> Results:
    """Write the files of the contract; returns the results with their folder.

    Raises
    ------
    StudyError
        See `check_folder`.
    """
    check_folder(folder)
    folder.mkdir(parents=True, exist_ok=True)
    for name in ("comparisons", "curves", "foundings"):
        frame: pd.DataFrame = getattr(results, name)
        written.write(frame, name, folder / f"{name}.csv")
    for name in ("diagnosis", "run"):
        text = json.dumps(getattr(results, name), indent=1, default=str, ensure_ascii=False)
        (folder / f"{name}.json").write_text(text + "\n", encoding="utf-8")
    draws = folder / "draws.nc"
    draws.unlink(missing_ok=True)
    if tree is not None:
        tree.to_netcdf(draws, engine="h5netcdf")
    return Results(
        **{f.name: getattr(results, f.name) for f in fields(results)} | {"folder": folder}
    )


def _need(folder: Path, names: Iterable[str]) -> None:
    missing = [n for n in names if not (folder / n).is_file()]
    if missing:
        raise StudyError(
            f"{folder} is not a folder of results: {', '.join(missing)} is not there. Make one "
            "with 'cohort compare STUDY --out FOLDER'."
        )


def read(folder: str | Path) -> Results:
    """Results as `write` left them.

    Raises
    ------
    StudyError
        The folder lacks a file of the contract.
    """
    folder = Path(folder)
    _need(folder, ("comparisons.csv", "curves.csv", "foundings.csv", "diagnosis.json", OURS))
    frames: dict[str, Any] = {
        n: written.read(folder / f"{n}.csv", n) for n in ("comparisons", "curves", "foundings")
    }
    texts = {n: json.loads((folder / f"{n}.json").read_text("utf-8")) for n in ("diagnosis", "run")}
    raw = raw_table(frames["foundings"], int(texts["run"]["horizon"]))
    return Results(**frames, raw=raw, **texts, folder=folder)


def read_draws(folder: Path) -> tuple[xr.Dataset, Lineup, Priors]:
    """Posterior, lineup (what forecasts need of it) and priors of a folder of results.

    Raises
    ------
    StudyError
        There are no draws: the comparison had not settled, or the folder is not one of ours.
    """
    import xarray as xr

    _need(folder, (OURS, "draws.nc"))

    def group(name: str) -> xr.Dataset:  # the whole tree takes half as long again to open
        with xr.open_dataset(folder / "draws.nc", engine="h5netcdf", group=name) as one:
            return one.load()

    posterior, constant = group("posterior"), group("constant_data")
    priors = json.loads(group("/").attrs["priors"])
    genera = tuple(str(g) for g in posterior["genus"].to_numpy())
    size = constant["size"].to_numpy()
    index = {g: i for i, g in enumerate(genera)}
    lineup = Lineup(
        foundings=tuple(str(f) for f in constant["founding"].to_numpy()),
        genera=genera,
        genus=np.array([index[str(g)] for g in constant["genus_of_founding"].to_numpy()]),
        size=size,
        seen=np.zeros_like(size),
        steps1=constant["steps_before"].to_numpy(),
        steps2=constant["steps_after"].to_numpy(),
        pooled_fight=bool(constant.attrs["pooled_fight"]),
        covariates=tuple(str(c) for c in constant["covariate"].to_numpy()),
        x=constant["covariate_rows"].to_numpy(),
        logged=constant["on_degree_days"].to_numpy().astype(bool),
        reference=float(constant.attrs["warm_reference"]),
        variant=constant.attrs["variant"],
    )
    priors["genus"] = {k: GenusPrior(**v) for k, v in priors["genus"].items()}
    for name in ("multi_days", "mated", "seen", "warm_days", "warm_threshold"):
        priors[name] = tuple(priors[name])
    return posterior, lineup, Priors(**priors)
