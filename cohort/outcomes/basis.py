"""What a forecast stands on: the draws of a comparison, or the priors alone.

Comes in: a folder of results, or nothing. Goes out: a frozen `Basis`: draws for the recursion,
the genera and sizes behind them, and a plain sentence that says what they are. Never: a forecast,
an import of a sampler.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Final

import numpy as np
import numpy.typing as npt
import pandas as pd
import xarray as xr

from cohort.base.errors import StudyError
from cohort.likelihood.layout import PARTS, S_SEEN, S_THRESHOLD, WINTER, WINTER_COMPANY
from cohort.model.design import ModelDesign, walk_steps
from cohort.model.kernel_arrays import added_to, stacked
from cohort.model.priors import Priors
from cohort.outcomes.parameters import Draws, posterior_draws, prior_draws, thin
from cohort.terms.genera import founds_by_splitting, near_genus, needs_host, spelled
from cohort.terms.near import nearest
from cohort.terms.questions import AVERAGE, NEW, OTHERS
from cohort.terms.voice import SHARED, Told, Voice, told, voice

Floats = npt.NDArray[np.float64]
SEED: Final = 20260402
"""Seed of the genus not yet tried, and of draws from the priors; the same every time."""


@dataclass(frozen=True)
class Basis:
    """Draws and where they come from.

    Attributes
    ----------
    draws : Draws
    told : tuple of Told
        What the forecast is based on.
    settled : bool
        False for the priors alone.
    title, season : str
        Of the study behind the draws; blank for the priors.
    foundings : frozenset of str
        Founding ids behind the draws.
    sizes : tuple of int
        Founding sizes behind the draws, ascending; empty for the priors.
    horizon : int
        Last day to which foundings behind the draws were followed; 0 for the priors.
    headline : int
        Commonest group size behind the draws; 0 for the priors.
    threshold : float array, shape (draws,)
        Temperature above which a logged shelf counts, degrees Celsius; empty where the draws do
        not rest on degree-days.
    reference : float
        Degrees Celsius whose days the first worker of the draws is told in; nan: plain days.
    rare : frozenset of str
        Kinds that were compared as one, see `cohort.history.gathered`.
    last : mapping of str to int
        Last day that may be spoken of, by kind and of the `AVERAGE`; 0: none. Empty for the priors.
    brood : DataFrame
        Rows of ``comparisons.csv`` on the first brood; empty for the priors, or without counts.
    brood_counts : DataFrame
        Counts of first broods behind them: genus, size, first_by, brood_day, brood_workers.
    posterior : Dataset or None
        The named draws themselves, as many as ``draws`` has; None for the priors.
    design : ModelDesign or None
        Of the foundings behind them.
    """

    draws: Draws
    told: tuple[Told, ...]
    settled: bool
    title: str = ""
    season: str = ""
    foundings: frozenset[str] = frozenset()
    sizes: tuple[int, ...] = ()
    horizon: int = 0
    headline: int = 0
    threshold: npt.NDArray[np.float64] = field(default_factory=lambda: np.zeros(0))
    reference: float = math.nan
    rare: frozenset[str] = frozenset()
    last: Mapping[str, int] = field(default_factory=dict)
    brood: pd.DataFrame = field(default_factory=pd.DataFrame)
    brood_counts: pd.DataFrame = field(default_factory=pd.DataFrame)
    posterior: xr.Dataset | None = None
    design: ModelDesign | None = None

    @property
    def says(self) -> str:
        """What the forecast is based on, in English."""
        return " ".join(voice(SHARED).tell(self.told))

    def added(self, foundings: Sequence[str], pick: npt.NDArray[np.int64]) -> Floats:
        """What their own keeper, flight, season, species and covariates add to foundings.

        Parameters
        ----------
        foundings : sequence of str
        pick : int array
            Which of the draws.

        Returns
        -------
        float array, shape (pick, PARTS, foundings)
            See `cohort.likelihood.layout`; 0 for foundings that are not behind the draws.
        """
        out: Floats = np.zeros((len(pick), PARTS, len(foundings)))
        if self.posterior is None or self.design is None:
            return out
        place = {name: i for i, name in enumerate(self.design.foundings)}
        mine = np.array([place.get(name, -1) for name in foundings], dtype=np.int64)
        values = {name: of[pick] for name, of in stacked(self.posterior).items()}
        out[:, :, mine >= 0] = added_to(values, self.design, mine[mine >= 0], len(pick))
        return out

    def last_day(self, index: int) -> int:
        """Last day that may be spoken of for a kind, by its index in ``draws.params``.

        A kind with too few foundings of its own, or none, goes by all kinds together.
        """
        name = self.draws.genera[index] if index >= 0 else AVERAGE
        return self.last.get(name, 0) or self.last.get(AVERAGE, 0) or self.horizon

    def genus(self, name: str) -> int:
        """Index of a genus in ``draws.params``; that of a kind not yet tried if it is not there."""
        name = OTHERS if name in self.rare else name
        return self.draws.genera.index(name) if name in self.draws.genera else -1


def _every_step() -> tuple[npt.NDArray[np.float64], npt.NDArray[np.float64]]:
    """Steps of the hazards when none is dropped for want of losses."""
    late = np.full(3, 1000.0)
    return walk_steps(late, late)


def prior_basis(*, draws: int = 1500, seed: int = SEED, genera: tuple[str, ...] = (NEW,)) -> Basis:
    """The priors alone, for which every genus is one not yet tried.

    Parameters
    ----------
    draws, seed : int
    genera : tuple of str
        Genera to draw effects for, where their mean is asked for.
    """
    none = np.zeros(0, np.int64)
    steps1, steps2 = _every_step()
    design = ModelDesign((), genera, none, none, none, steps1, steps2, pooled_fight=False)
    priors = Priors()
    return Basis(
        _with_winter(prior_draws(design, priors, seed=seed, draws=draws), priors, seed),
        (told("based_on_nothing"),),
        False,
    )


def _with_winter(drawn: Draws, priors: Priors, seed: int) -> Draws:
    """The draws with what the priors say of winter rest, for draws that do not go through one."""
    shared, rng = drawn.shared.copy(), np.random.default_rng(seed + 11)
    for name, column in (("winter", WINTER), ("winter_company", WINTER_COMPANY)):
        shared[:, column] = priors[name].draw(rng, (len(shared),))
    return replace(drawn, shared=shared)


def results_basis(folder: Path, *, draws: int = 1500, seed: int = SEED) -> Basis:
    """Draws of a folder of results.

    Raises
    ------
    StudyError
        The folder is not one of results, its comparison had not settled, or another version
        wrote it.
    """
    from cohort.results import read, read_draws

    results = read(folder)
    if not results.settled:
        raise StudyError(
            f"{folder}: that comparison has not settled, so nothing is forecast from it. Leave "
            "out --from to go by general assumptions alone."
        )
    try:
        posterior, design, priors = read_draws(folder)
        drawn = posterior_draws(posterior, design, priors, seed=seed, draws=draws)
    except (KeyError, ValueError, TypeError) as lacking:
        raise StudyError(
            f"{folder}: its draws were written by another version of this program, so they cannot "
            "be read. Make them again with 'cohort compare STUDY --out FOLDER'."
        ) from lacking
    if "seen" not in posterior:  # nobody there saw a mating: the prior says what one would add
        shared = drawn.shared.copy()
        rng = np.random.default_rng(seed + 7)
        shared[:, S_SEEN] = priors["seen"].draw(rng, (len(shared),))
        drawn = replace(drawn, shared=shared)
    if "winter" not in posterior:
        drawn = _with_winter(drawn, priors, seed)
    threshold = np.zeros(0)
    if "warm_threshold" in posterior:
        threshold = drawn.shared[:, S_THRESHOLD].copy()
    title, season = str(results.run.get("title", "")), str(results.run.get("season", ""))
    return Basis(
        drawn,
        _based_on(design, ", ".join(part for part in (title, season) if part)),
        True,
        title,
        season,
        frozenset(design.foundings),
        tuple(sorted({int(k) for k in design.size})),
        int(results.run["horizon"]),
        int(results.diagnosis.get("headline", 0)),
        threshold,
        design.reference,
        frozenset(results.diagnosis.get("rare", ())),
        {
            AVERAGE: int(results.diagnosis.get("fair_day", 0)),
            **results.diagnosis.get("kind_days", {}),
        },
        results.comparisons[results.comparisons["question"].eq("first_brood")],
        results.foundings.loc[
            results.foundings["compared"] & results.foundings["brood_workers"].notna(),
            ["genus", "size", "first_by", "brood_day", "brood_workers"],
        ],
        thin(posterior, draws),
        design,
    )


def _based_on(design: ModelDesign, study: str) -> tuple[Told, ...]:
    counts = {
        "foundings": told("foundings", n=len(design.foundings)),
        "kinds": told("kinds", n=len(design.genera)),
    }
    out = told("based_on_study", **counts, study=study) if study else told("based_on", **counts)
    at = design.reference
    return (out, told("based_on_warmth", degrees=float(at))) if math.isfinite(at) else (out,)


def basis_of(folder: Path | None, *, draws: int = 1500) -> Basis:
    """Draws of a folder of results, or the priors when none is given."""
    return prior_basis(draws=draws) if folder is None else results_basis(folder, draws=draws)


@dataclass(frozen=True)
class Kind:
    """A kind somebody asks about.

    Attributes
    ----------
    name : str
        As it is to be printed; blank: any genus that is new to the draws.
    index : int
        Into ``draws.params``.
    told : tuple of Told
        What to say where nobody behind the draws has kept it.
    """

    name: str
    index: int
    told: tuple[Told, ...] = ()

    @property
    def says(self) -> str:
        """The same in English; blank where there is nothing to say."""
        return " ".join(voice(SHARED).tell(self.told))

    def named(self, speaks: Voice) -> str:
        """Name of the kind in a language."""
        return self.name or speaks.say("a_new_kind")


def kind_of(word: str, basis: Basis) -> Kind:
    """The kind meant by a word of the command line.

    Raises
    ------
    StudyError
        No such kind here and no such genus known; a genus whose queens do not found alone.
    """
    word = word.strip()
    by_low = {name.lower(): name for name in basis.draws.genera if name != NEW}
    known = by_low.get(word.lower(), "")
    if known:
        return Kind(known, basis.genus(known))
    genus = spelled(word)
    if not genus and word.lower() != NEW:
        near = nearest(word, by_low.values()) or near_genus(word)
        hint = f" Did you mean '{near}'?" if near else ""
        raise StudyError(
            f"'{word}' is no kind of these results and no genus known here.{hint} Write "
            "--genus new for a genus new to the club."
        )
    if needs_host(genus):
        raise StudyError(
            f"Queens of {genus} found inside a host colony, never alone, so there is no way to "
            "divide them. Local law and licensed advice come first."
        )
    if founds_by_splitting(genus):
        raise StudyError(
            f"{genus}: no queen founds alone, for new colonies come from splitting one. So there "
            "is no way to divide queens."
        )
    if not basis.settled:
        return Kind(genus, -1)
    if genus in basis.rare:
        return Kind(genus, basis.genus(genus), (told("kind_rare", kind=genus),))
    return Kind(genus, -1, (told("kind_new", kind=genus) if genus else told("kind_new_any"),))
