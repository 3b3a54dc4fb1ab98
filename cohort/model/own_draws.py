"""One's own draws as a fit: a tree, a dataset or a frame, checked against the study they are of.

Comes in: named draws, a design. Goes out: a `Fit`. Never: a sampler, a guess at what is missing.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any, Final

import numpy as np
import pandas as pd
import xarray as xr

from cohort.base.errors import StudyError
from cohort.likelihood.exposure import Exposure
from cohort.likelihood.packing import STEPS
from cohort.model.design import ModelDesign
from cohort.model.parameters import BY_FOUNDING, COMMON, EFFECTS
from cohort.model.places import named_dims
from cohort.model.priors import Priors
from cohort.model.sample import Fit

PLAIN: Final = ("chain", "draw")
RECORD: Final = ("diverging", "energy")
"""What is read of a sampler's own record, where there is one."""


def wanted(design: ModelDesign) -> dict[str, tuple[str, ...]]:
    """Variables a posterior of a design must have, each with its dims beside chain and draw."""
    out: dict[str, tuple[str, ...]] = {}
    for name in EFFECTS:
        out |= {name: ("genus",), f"{name}_mean": (), f"{name}_sd": ()}
    for row in (*COMMON, *BY_FOUNDING):
        if row.enters(design) and row.name != "frailty":
            out[row.name] = row.dims
    return out


def labels(design: ModelDesign) -> dict[str, list[Any]]:
    """Labels along every dim a variable of the posterior may have."""
    named = {"genus": list(design.genera), "phase": ["before", "after"]}
    return {**named, "step": list(range(STEPS)), **named_dims(design)}


def _frame(draws: pd.DataFrame, design: ModelDesign) -> xr.Dataset:
    """A frame of draws as a dataset: a row per draw, columns named as in `Fit.from_draws`."""
    frame = draws.reset_index() if draws.index.names != [None] else draws
    chain = frame["chain"] if "chain" in frame else pd.Series(0, index=frame.index)
    lengths = chain.value_counts()
    if lengths.nunique() != 1:
        raise StudyError("Of the chains of these draws some are longer than others.")
    order = np.argsort(chain.to_numpy(), kind="stable")
    shape, known = (len(lengths), int(lengths.iloc[0])), labels(design)
    dims_of, out, used = wanted(design), {}, {"chain", "draw"}

    def values(column: str) -> Any:
        used.add(column)
        return frame[column].to_numpy(float)[order].reshape(shape)

    for name, dims in (*dims_of.items(), ("frailty", ("founding",))):
        columns = [f"{name}[{label}]" for label in known[dims[0]]] if dims else [name]
        there = [column for column in columns if column in frame]
        if not there:
            continue  # told, where it is needed, with all else that is missing
        if len(there) < len(columns):
            lacks = next(column for column in columns if column not in there)
            raise StudyError(f"Draws of {name} lack the column '{lacks}'.")
        each = [values(column) for column in columns]
        out[name] = ((*PLAIN, *dims), np.stack(each, axis=-1) if dims else each[0])
    for column in frame.columns:
        if column not in used and pd.api.types.is_numeric_dtype(frame[column]):
            out[str(column)] = (PLAIN, values(column))
    coords = {d: np.arange(n) for d, n in zip(PLAIN, shape, strict=True)}
    dims_there = {dim for dims, _ in out.values() for dim in dims}
    return xr.Dataset(out, coords=coords | {d: v for d, v in known.items() if d in dims_there})


def _parts(draws: Any, design: ModelDesign) -> tuple[xr.Dataset, xr.Dataset]:
    """Posterior and the sampler's record, of whatever was given."""
    if isinstance(draws, pd.DataFrame):
        return _frame(draws, design), xr.Dataset()
    if isinstance(draws, xr.Dataset):
        return draws, xr.Dataset()
    if isinstance(draws, xr.DataTree) and "posterior" in draws.children:
        record = draws["sample_stats"].to_dataset() if "sample_stats" in draws.children else None
        return draws["posterior"].to_dataset(), xr.Dataset() if record is None else record
    raise StudyError(
        "Draws are a DataTree with a group 'posterior', an xarray Dataset or a pandas DataFrame; "
        f"this is a {type(draws).__name__}."
    )


def _checked(posterior: xr.Dataset, design: ModelDesign) -> None:
    for dim in PLAIN:
        if dim not in posterior.dims:
            raise StudyError(f"These draws have no dimension '{dim}'.")
    needs = wanted(design)
    missing = [name for name in needs if name not in posterior]
    if missing:
        raise StudyError(
            f"These draws lack {', '.join(missing)}. A posterior of this study needs "
            f"{', '.join(needs)}: see the words of the model in DEVELOPERS.md."
        )
    known = labels(design)
    for name, dims in needs.items():
        here = posterior[name]
        shape = {str(d): int(n) for d, n in here.sizes.items() if d not in PLAIN}
        asked = {dim: len(known[dim]) for dim in dims}
        if shape != asked:
            raise StudyError(
                f"Draws of {name} have {_said(shape)}; this study takes {_said(asked)} beside "
                "chain and draw."
            )
        for dim in dims:
            have = [str(v) for v in here[dim].to_numpy()] if dim in here.coords else []
            if have and have != [str(v) for v in known[dim]]:
                raise StudyError(
                    f"Draws of {name} are of other foundings or kinds: along '{dim}' they have "
                    f"{', '.join(have[:6])}, and this study has "
                    f"{', '.join(str(v) for v in known[dim][:6])}."
                )
        if not np.isfinite(here.to_numpy().astype(float)).all():
            raise StudyError(f"Draws of {name} hold a number that is none (nan or infinite).")


def _said(shape: Mapping[str, int]) -> str:
    return ", ".join(f"{n} along '{dim}'" for dim, n in shape.items()) or "one number"


def fit_of(draws: Any, design: ModelDesign, exposure: Exposure, priors: Priors, seed: int) -> Fit:
    """One's own draws as a fit; see `cohort.model.sample.Fit.from_draws`."""
    posterior, record = _parts(draws, design)
    for level, grouping in design.levels.items():  # numbered where a page names no keepers
        numbers = [str(i) for i in range(1, len(grouping.names) + 1)]
        if level in posterior.coords and [str(v) for v in posterior[level].values] == numbers:
            design = design.numbered(level)
    _checked(posterior, design)
    keep = [*wanted(design), *(["frailty"] if "frailty" in posterior else [])]
    inner = ("_signed", "_coordinate")  # of a model made by cohort.founding_model
    own = [
        str(name)
        for name in posterior.data_vars
        if name not in keep and not str(name).endswith(inner) and name != "moved_by_own"
    ]
    return Fit(
        posterior[[*keep, *own]].transpose("chain", "draw", ...),
        record[[name for name in RECORD if name in record]],
        design,
        exposure,
        priors,
        seed,
        math.nan,
        own=tuple(own),
        moved=posterior.get("moved_by_own"),
    )
