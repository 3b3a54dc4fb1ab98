"""The draws behind the headline: the same queens, together less singly, kind by kind.

Comes in: draws of the posterior and of the priors, or a folder of results. Goes out: an
`xarray.Dataset`, which lies in ``draws.nc`` as the group `GROUP`, and one tidy frame, a row per
draw. Never: a summary, an import of a sampler.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Final

import numpy as np
import numpy.typing as npt
import pandas as pd

from cohort.results.files import DRAWS, OURS, as_written, loaded, need, run_of
from cohort.results.verdict_rows import HEADLINE

if TYPE_CHECKING:
    import xarray as xr

GROUP: Final = "contrast"
"""Group of ``draws.nc`` in which these draws lie."""
SOURCES: Final = ("posterior", "prior")
COLUMNS: Final = ("genus", "queens", "day", "source", "draw", "value")


def _variable(source: str) -> str:
    """Its name in the file: a tree in which a variable bears a name of a group does not load."""
    return f"{source}_contrast"


def empty() -> pd.DataFrame:
    """The frame without a row, for results that have no such draws."""
    return pd.DataFrame({name: pd.Series(dtype=float) for name in COLUMNS})


def as_dataset(
    draws: Mapping[str, npt.NDArray[np.float64]],
    kinds: Sequence[str],
    queens: int,
    days: Sequence[int],
) -> xr.Dataset:
    """Draws of the headline contrast with named dimensions.

    Parameters
    ----------
    draws : mapping of str to float array, shape (draws, kinds)
        By each of `SOURCES`; they may differ in how many.
    kinds : sequence of str
        Genera, ``average`` and ``new``.
    queens : int
        Size of the group.
    days : sequence of int
        Day of each kind, the last that may be spoken of.
    """
    import xarray as xr

    told = {
        _variable(source): xr.DataArray(draws[source], dims=(f"{source}_draw", "genus"))
        for source in SOURCES
    }
    return xr.Dataset(
        told,
        coords={"genus": list(kinds), "day": ("genus", [int(day) for day in days])},
        attrs={"quantity": HEADLINE, "queens": int(queens)},
    )


def frame_of(data: xr.Dataset) -> pd.DataFrame:
    """One row per draw.

    Parameters
    ----------
    data : Dataset
        From `as_dataset`.

    Returns
    -------
    DataFrame
        Columns genus, queens, day, source (``posterior``, ``prior``), draw (from 0), value: the
        chance of at least one colony from the same queens, together less singly, -1 to 1.
    """
    genera = [str(genus) for genus in data["genus"].to_numpy()]
    parts = []
    for source in SOURCES:
        values = data[_variable(source)].to_numpy()
        count = len(values)
        parts.append(
            pd.DataFrame(
                {
                    "genus": pd.Categorical(np.repeat(genera, count), categories=genera),
                    "queens": int(data.attrs["queens"]),
                    "day": np.repeat(data["day"].to_numpy().astype(int), count),
                    "source": pd.Categorical([source] * values.size, categories=SOURCES),
                    "draw": np.tile(np.arange(count), len(genera)),
                    "value": values.T.ravel(),
                }
            )
        )
    return pd.concat(parts, ignore_index=True)


def held_or_read(contrasts: pd.DataFrame, folder: Path | None) -> pd.DataFrame:
    """The draws in memory, else those of the folder in which the results lie."""
    return contrasts if len(contrasts) or folder is None else read(folder)


def read(folder: str | Path) -> pd.DataFrame:
    """These draws of a folder of results, see `frame_of`; without a row where there are none.

    Raises
    ------
    StudyError
        The folder is not one of ours, or was changed.
    """
    import h5py
    import xarray as xr

    folder = Path(folder)
    if not (folder / DRAWS).is_file():
        return empty()
    need(folder, (OURS,))
    as_written(folder, run_of(folder), (DRAWS,))

    def opened(path: Path) -> pd.DataFrame:
        with h5py.File(path) as file:
            if GROUP not in file:  # written before these draws were kept
                return empty()
        with xr.open_dataset(path, engine="h5netcdf", group=GROUP) as data:
            return frame_of(data.load())

    return loaded(folder / DRAWS, opened)
