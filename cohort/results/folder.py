"""The output folder: written whole, read by everything that comes after.

Comes in: frames and draws of a comparison. Goes out: files of the contract (`write`; `made` and
`fill` where a page is to lie beside them), and frozen `Results` again (`read`), the only way back.
Never: a computation, an import of a sampler, a folder that is half of one comparison and half of
another.
"""

from __future__ import annotations

import contextlib
import json
import platform
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import pandas as pd

from cohort.base import making
from cohort.base.asked import folder_of
from cohort.base.display import Facts, Shown, several
from cohort.base.errors import StudyError
from cohort.base.frames import hands_out_copies, held
from cohort.model.design import ModelDesign, from_dataset
from cohort.model.priors import Priors
from cohort.nonparametric.counts import raw_table
from cohort.results.drawn_tree import LAYOUT
from cohort.results.files import (
    DRAWS,
    MINE,
    OURS,
    STUDY_TABLES,
    TABLES,
    as_written,
    carry_over,
    check_folder,
    json_of,
    loaded,
    need,
    ours,
    run_of,
    sums_of,
)
from cohort.results.headline_draws import empty as no_contrasts
from cohort.results.headline_draws import held_or_read
from cohort.results.kept_study import write_study_files
from cohort.results.printed import Printed
from cohort.results.verdict_rows import HEADLINE, said_of
from cohort.sheets import written
from cohort.study import Study
from cohort.terms.described import described
from cohort.terms.near import did_you_mean
from cohort.terms.questions import AVERAGE, SEEN
from cohort.terms.written.kept import FOLDER

if TYPE_CHECKING:
    import xarray as xr

_MAY_BE_THERE: Final = (DRAWS, *(f"{FOLDER}/{name}.csv" for name in STUDY_TABLES))
PACKAGES: Final = (
    "numpy", "pandas", "scipy", "numba", "nutpie", "arviz-stats", "lifelines", "xarray",
)  # fmt: skip


@hands_out_copies(
    raw=described("raw"),
    contrasts=described("draws"),
    **{name: described(name) for name in TABLES},
)
@dataclass(frozen=True, repr=False, eq=False)
class Results(Printed, Shown):
    """What a comparison found, frozen.

    Its tables are handed out as copies, with units and meanings of their columns in ``attrs``.

    Attributes
    ----------
    comparisons : DataFrame
        The long table; empty when the gate is shut.
    curves : DataFrame
        Curves without a model, and the model's own (``model_...``) where it settled.
    foundings : DataFrame
        One derived row per founding.
    raw : DataFrame
        Counts by kind and way, see `cohort.nonparametric.counts.raw_table`.
    diagnosis : dict
        ``settled``, what it was judged by, ``reasons``, ``notes``, ``headline`` (group size); of a
        study that was fitted how far it was followed, see `cohort.nonparametric.followed.reach`.
    run : dict
        Versions, seed, sheets with their sha256.
    folder : Path or None
        Where it lies, when it was read or written.
    verdicts : DataFrame
        What may be said of each contrast, see `cohort.verdict`; empty when the gate is shut.
    sensitivity : DataFrame
        The chances behind, under other assumptions.
    second_opinion : DataFrame
        The same questions by other methods, see `cohort.second_opinion`.
    contrasts : DataFrame
        The draws behind the headline, see `cohort.results.headline_draws`; without a row in results
        that were read, whose draws lie in ``draws.nc``.

    Examples
    --------
    >>> import cohort
    >>> found = cohort.read_results("out")
    >>> found.settled
    True
    >>> found.comparisons.attrs["units"]["own_share"]
    'share'
    """

    comparisons: pd.DataFrame
    curves: pd.DataFrame
    foundings: pd.DataFrame
    raw: pd.DataFrame
    diagnosis: dict[str, Any]
    run: dict[str, Any]
    folder: Path | None = None
    verdicts: pd.DataFrame = field(default_factory=lambda: written.empty("verdicts"))
    sensitivity: pd.DataFrame = field(default_factory=lambda: written.empty("sensitivity"))
    second_opinion: pd.DataFrame = field(default_factory=lambda: written.empty("second_opinion"))
    contrasts: pd.DataFrame = field(default_factory=no_contrasts)

    @property
    def settled(self) -> bool:
        """True when the comparison may be printed."""
        return bool(self.diagnosis.get("settled", False))

    def tidy(self, name: str) -> pd.DataFrame:
        """A table with words to print beside its codes, as seaborn takes it.

        Parameters
        ----------
        name : str
            ``comparisons``, ``verdicts``, ``sensitivity``, ``curves``, ``foundings``,
            ``second_opinion`` or ``raw``; see `cohort.results.tidy` for the columns. ``draws`` are
            those behind the headline, a row per draw and kind; without a row where none are kept.

        Returns
        -------
        DataFrame

        Raises
        ------
        StudyError
            There is no such table.

        Examples
        --------
        >>> import cohort
        >>> curves = cohort.read_results("out").tidy("curves")
        >>> list(curves["way"].cat.categories)
        ['one queen', 'several queens']
        """
        from cohort.results.tidy import tidy

        known = (*TABLES, "raw", "draws")
        if name not in known:
            near = did_you_mean(str(name), known) or f"There are {', '.join(known)}."
            raise StudyError(f"There is no table '{name}'. {near}")
        return tidy(self.draws() if name == "draws" else held(self, name), name)

    def draws(self) -> pd.DataFrame:
        """Draws of the headline contrast, of memory or of the folder.

        Returns
        -------
        DataFrame
            See `cohort.results.headline_draws.frame_of`; without a row where none are kept.

        Raises
        ------
        StudyError
            The folder was changed.

        Examples
        --------
        >>> import cohort
        >>> list(cohort.read_results("out").draws())
        ['genus', 'queens', 'day', 'source', 'draw', 'value']
        """
        return held_or_read(self.contrasts, self.folder)

    def facts(self) -> tuple[str, Facts]:
        """Whether the comparison settled, and the same queens both ways."""
        title = f"Results: {self.run.get('title') or 'without a title'}"
        compared = int(held(self, "foundings")["compared"].sum())
        facts = {"foundings compared": f"{compared:,}", "settled": "yes" if self.settled else "no"}
        if not self.settled:
            return title, facts | {"why": "; ".join(self.diagnosis.get("reasons", ()))}
        size = int(self.diagnosis["headline"])
        table = held(self, "comparisons")
        mine = table["genus"].eq(AVERAGE) & table["queens"].eq(size)
        mine &= table["reading"].eq(SEEN) & table["quantity"].eq("same_queens_count")
        said = said_of(self.verdicts).get((HEADLINE, AVERAGE, size))
        if said is not None:
            facts[f"{size} queens together or each alone, all kinds"] = said.plain
        last = table[mine].nlargest(1, "day")
        for row in last.itertuples():
            facts[f"colonies on day {row.day}, {size} queens together less the same singly"] = (
                f"{row.mean:+.2f} ({row.level:.0%}: {row.low:+.2f} to {row.high:+.2f}), all kinds"
            )
        return title, facts | {"numbers": f"{several(len(table), 'row')} in .comparisons"}


def versions() -> dict[str, str]:
    """Versions of Python, of this package and of what computes for it."""
    out = {"python": platform.python_version()}
    for name in (MINE, *PACKAGES):
        try:
            out[name] = version(name)
        except PackageNotFoundError:
            out[name] = "not installed"
    return out


def made(folder: Path) -> contextlib.AbstractContextManager[making.Making]:
    """A place to write results and what belongs to them; on leaving it is all the folder holds.

    Raises
    ------
    StudyError
        See `check_folder` and `cohort.base.making.remade`.
    """
    return making.remade(folder_of(folder), ours, check_folder)


def fill(
    place: Path,
    results: Results,
    tree: xr.DataTree | None = None,
    study: Study | None = None,
    draws: bytes = b"",
) -> None:
    """Write the files of the contract into an empty place, see `made`.

    Parameters
    ----------
    place : Path
    results : Results
    tree : DataTree, optional
        Draws, for ``draws.nc``.
    study : Study, optional
        What the results were made of; kept in ``study/``, so that a page can be made again.
    draws : bytes
        ``draws.nc`` as it lies elsewhere, where there is no tree.

    Notes
    -----
    ``run.json`` comes last and bears the sha256 of the others, by which `read` knows that they are
    as they were written.
    """
    for name in TABLES:
        written.write(getattr(results, name), name, place / f"{name}.csv")
    _write_json(place / "diagnosis.json", results.diagnosis)
    if tree is not None:
        # in memory first: the library behind it does not get over a disk that is full
        draws = bytes(tree.to_netcdf(engine="h5netcdf"))
    if draws:
        making.write(place / DRAWS, draws)
    if study is not None:
        write_study_files(study, place)
    _write_json(place / OURS, results.run | {"layout": LAYOUT, "files": sums_of(place)})


def _write_json(path: Path, values: Mapping[str, Any]) -> None:
    making.write(path, json.dumps(values, indent=1, default=str, ensure_ascii=False) + "\n")


def draws_of(results: Results) -> bytes:
    """The file of draws beside results that were read from a folder; blank where there is none."""
    path = results.folder / DRAWS if results.folder is not None else None
    return path.read_bytes() if path is not None and path.is_file() else b""


def write(
    folder: str | Path,
    results: Results,
    tree: xr.DataTree | None = None,
    *,
    study: Study | None = None,
) -> Results:
    """Write the files of the contract; returns the results with their folder.

    Everything of an earlier comparison leaves the folder, its page and pictures too.

    Raises
    ------
    StudyError
        See `made`.
    """
    with made(folder_of(folder)) as new:
        fill(new.place, results, tree, study=study)
        carry_over(new.folder, new.place)
    return replace(results, folder=Path(folder))


def _this_version(folder: Path, layout: object) -> None:
    if layout != LAYOUT:
        raise StudyError(
            f"{folder} was written by another version of this program, so it cannot be read. "
            "Make it again with 'cohort compare STUDY --out FOLDER'."
        )


def read(folder: str | Path) -> Results:
    """Results as they were written, every table with the types it had.

    Parameters
    ----------
    folder : path
        Written by ``cohort compare``, ``cohort newsletter`` or `Comparison.write`.

    Returns
    -------
    Results

    Raises
    ------
    StudyError
        The folder lacks a file of the contract, one is damaged, or another version wrote it.

    Examples
    --------
    >>> import cohort
    >>> found = cohort.read_results("out")  # cohort compare data/demo --out out
    >>> rows = found.comparisons
    >>> same = rows[rows["quantity"].eq("same_queens_any") & rows["reading"].eq("seen")]
    >>> same["arm"].unique().tolist()
    ['difference']
    """
    folder = folder_of(folder)
    making.mended(folder, ours)
    names = (*(f"{name}.csv" for name in TABLES), "diagnosis.json")
    need(folder, (*names, OURS))
    run = run_of(folder)
    _this_version(folder, run.get("layout", 0))
    as_written(folder, run, (*names, *(n for n in _MAY_BE_THERE if (folder / n).is_file())))

    def table(name: str) -> pd.DataFrame:
        return loaded(folder / f"{name}.csv", lambda path: written.read(path, name))

    frames: dict[str, Any] = {name: table(name) for name in TABLES}
    diagnosis = loaded(folder / "diagnosis.json", json_of)
    raw = loaded(
        folder / "foundings.csv",
        lambda _: raw_table(frames["foundings"], int(run["horizon"]), level=float(run["level"])),
    )
    return Results(**frames, raw=raw, diagnosis=diagnosis, run=run, folder=folder)


def read_draws(folder: Path) -> tuple[xr.Dataset, ModelDesign, Priors]:
    """Posterior, design (what forecasts need of it) and priors of a folder of results.

    Raises
    ------
    StudyError
        There are no draws: the comparison had not settled, or the folder is not one of ours.
    """
    import xarray as xr

    making.mended(folder, ours)
    need(folder, (OURS, DRAWS))
    as_written(folder, run_of(folder), (DRAWS,))

    def group(name: str) -> xr.Dataset:  # the whole tree takes half as long again to open
        def opened(path: Path) -> xr.Dataset:
            with xr.open_dataset(path, engine="h5netcdf", group=name) as one:
                return one.load()

        return loaded(folder / DRAWS, opened)

    about = group("/").attrs
    _this_version(folder, int(about.get("version", 0)))
    design = from_dataset(group("constant_data"))
    return group("posterior"), design, Priors.from_json(about["priors"])
