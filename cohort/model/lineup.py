"""Who is compared with whom: the study turned into indices, sizes and switches for the model.

Comes in: an `Exposure` and the effects asked for. Goes out: a frozen `Lineup`. Never: a prior,
a sampler, pymc. Every effect enters only under its entry rule, and a note says what did not.
"""

from __future__ import annotations

import json
import math
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any, Final, Literal

import numpy as np
import numpy.typing as npt
import pandas as pd

from cohort.exposure import Exposure
from cohort.model.on_degree_days import told, who
from cohort.transitions import layout as at
from cohort.warmth import COLUMN as TEMPERATURE
from cohort.warmth import centred

if TYPE_CHECKING:
    import xarray as xr

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]
Bools = npt.NDArray[np.bool_]
Variant = Literal[
    "",
    "lasting",
    "no rivalry",
    "no frailty",
    "no fertile fraction",
    "one genus",
    "free loading",
    "last fight takes one",
]
VARIANTS: Final[dict[Variant, str]] = {
    "": "the model of the page",
    "lasting": "the effect of company stays with the last queen",
    "no rivalry": "queens in company die alike after workers come",
    "no frailty": "all foundings of a genus are alike",
    "no fertile fraction": "every queen is mated",
    "one genus": "all genera are one",
    "free loading": "frailty may weigh differently after workers come",
    "last fight takes one": "a fight of the last two always leaves one",
}
LEVEL_COLUMNS: Final = {"keepers": "keeper", "flights": "flight", "kinds_within": "kind_within"}
"""Names of levels, and of each founding's index into them."""
LEAST_KEEPERS: Final = 3
LEAST_BEYOND: Final = 3
LEAST_FIGHTS: Final = 3
LEAST_OF_SPECIES: Final = 3


@dataclass(frozen=True)
class Lineup:
    """Indices, sizes and switches of the model; one entry per founding unless said.

    Attributes
    ----------
    foundings, genera : tuple of str
    genus : int array
        Index into ``genera``.
    size : int array
        Queens at the start.
    seen : int array
        Queens seen mating.
    steps1, steps2 : float arrays, shapes (pieces, 7)
        What each step of the random walk adds to the log hazard of each piece.
    pooled_fight : bool
        One theta for all genera: too few last fights to tell genera apart.
    keepers, flights, kinds_within : tuple of str
        Levels that enter as effects (``kinds_within``: species within genera); empty where the
        entry rule is not met.
    keeper, flight, kind_within : int array
        Index into them.
    covariates : tuple of str
    x : float array, shape (foundings, covariates)
        Centred, and scaled by the SD where numeric.
    warm : float array
        Degrees Celsius of each founding's shelf above the mean of the foundings, 0 where not
        known; all 0 unless ``adjust`` names ``shelf_temperature``. Moves the first worker. Where
        some run on degree-days, degrees above their reference, and 0 for these.
    logged : bool array
        Whether the founding runs on degree-days.
    reference : float
        Degrees Celsius whose days are the unit of those; nan when none does.
    variant : str
        See `VARIANTS`.
    notes : tuple of str
        What did not enter, and why.
    """

    foundings: tuple[str, ...]
    genera: tuple[str, ...]
    genus: Ints
    size: Ints
    seen: Ints
    steps1: Floats
    steps2: Floats
    pooled_fight: bool
    keepers: tuple[str, ...] = ()
    flights: tuple[str, ...] = ()
    keeper: Ints = field(default_factory=lambda: np.zeros(0, np.int64))
    flight: Ints = field(default_factory=lambda: np.zeros(0, np.int64))
    kinds_within: tuple[str, ...] = ()
    kind_within: Ints = field(default_factory=lambda: np.zeros(0, np.int64))
    covariates: tuple[str, ...] = ()
    x: Floats = field(default_factory=lambda: np.zeros((0, 0)))
    warm: Floats = field(default_factory=lambda: np.zeros(0))
    logged: Bools = field(default_factory=lambda: np.zeros(0, np.bool_))
    reference: float = math.nan
    variant: Variant = ""
    notes: tuple[str, ...] = ()

    def as_variant(self, variant: Variant) -> Lineup:
        """The same study under a named variant of the model."""
        changed = replace(self, variant=variant)
        if variant == "one genus":
            return replace(
                changed, genera=("all",), genus=np.zeros_like(self.genus), pooled_fight=True
            )
        return changed

    @property
    def multi(self) -> Floats:
        """1 where a founding started with two queens or more."""
        return (self.size >= 2).astype(float)

    @property
    def doublings(self) -> Floats:
        """Doublings of the group beyond two queens; 0 for singles."""
        return np.where(self.size >= 2, np.log2(np.maximum(self.size, 2) / 2.0), 0.0)


def _kept(cuts: tuple[float, ...], days: Floats) -> list[bool]:
    """Whether each cut keeps a step: at least three losses fall beyond it."""
    return [j == 0 or int((days > cut).sum()) >= LEAST_BEYOND for j, cut in enumerate(cuts)]


def walk_steps(days1: Floats, days2: Floats) -> tuple[Floats, Floats]:
    """What each of the seven walk steps adds to each piece of the two log hazards.

    Parameters
    ----------
    days1, days2 : float arrays
        Days of queen losses since day 0 and since the first worker.
    """
    kept1, kept2 = _kept(at.CUTS1, days1), _kept(at.CUTS2, days2)
    steps1 = np.zeros((at.N1, at.N1 - 1 + at.N2 - 1))
    steps2 = np.zeros((at.N2, at.N1 - 1 + at.N2 - 1))
    for j in range(at.N1):
        for cut in range(1, at.N1):
            if not kept1[cut]:
                continue
            if cut <= at.LEVEL1 and j < cut:
                steps1[j, cut - 1] = -1.0
            if cut > at.LEVEL1 and j >= cut:
                steps1[j, cut - 1] = 1.0
    for j in range(at.N2):
        for cut in range(1, at.N2):
            if kept2[cut] and j >= cut:
                steps2[j, at.N1 - 1 + cut - 1] = 1.0
    return steps1, steps2


def _levels(
    frame: pd.DataFrame, column: str, word: str
) -> tuple[tuple[str, ...], Ints, tuple[str, ...]]:
    """Levels of a keeper or flight effect, each founding's index, and a note if it stays out.

    Foundings without a level share one of their own, with the same prior.
    """
    label = frame[column].fillna("").astype(str)
    known = frame[label != ""]
    both = [
        part["genus"].nunique() >= 2 and part["arm"].nunique() == 2
        for _, part in known.groupby(label[label != ""])
    ]
    if sum(both) < LEAST_KEEPERS:
        note = (
            f"Differences from {word} to {word} are not in the model: that takes {LEAST_KEEPERS} "
            f"{word}s that each have two genera and both ways of founding; here: {sum(both)}."
        )
        return (), np.zeros(len(frame), np.int64), (note,)
    levels = tuple(sorted(label.unique()))
    return levels, label.map({v: i for i, v in enumerate(levels)}).to_numpy(np.int64), ()


def _species(frame: pd.DataFrame) -> tuple[tuple[str, ...], Ints, tuple[str, ...]]:
    """Levels of species within genera, each founding's index, and a note if some stay out.

    A genus enters with two species or more of at least three foundings each; all other foundings
    share one level, and with it the genus alone speaks for them.
    """
    label = frame["species"].fillna("").astype(str).str.strip()
    full = (frame["genus"].astype(str) + " " + label).where(label != "", "")
    often = full[full != ""].value_counts()
    often = often[often >= LEAST_OF_SPECIES]
    several = frame.loc[full.isin(often.index)].groupby("genus")["species"].nunique()
    genera = set(several[several >= 2].index)
    chosen = full.where(full.isin(often.index) & frame["genus"].isin(genera), "")
    if not genera:
        written = full[full != ""].nunique()
        note = (
            "Differences between species of a genus are not in the model: no genus has two species "
            f"of {LEAST_OF_SPECIES} foundings each."
        )
        return (), np.zeros(len(frame), np.int64), (note,) if written else ()
    levels = tuple(sorted(chosen.unique()))
    return levels, chosen.map({v: i for i, v in enumerate(levels)}).to_numpy(np.int64), ()


def line_up(exposure: Exposure, *, adjust: tuple[str, ...] = ()) -> Lineup:
    """The lineup of a packed study.

    Parameters
    ----------
    exposure : Exposure
    adjust : tuple of str
        Columns of the history to adjust the founding hazard for.

    Raises
    ------
    StudyError
        A column to adjust for does not exist, has one value, or is blank in half the rows.
    """
    from cohort.model.covariates import design

    frame = exposure.foundings
    genera = tuple(sorted(frame["genus"].astype(str).unique()))
    steps1, steps2 = walk_steps(exposure.loss_days1, exposure.loss_days2)
    keepers, keeper, note1 = _levels(frame, "keeper", "keeper")
    flights, flight, note2 = _levels(frame, "flight", "flight")
    kinds_within, kind_within, note3 = _species(frame)
    names, x, note4 = design(frame, adjust)
    logged, reference = who(exposure)
    warm = np.zeros(len(frame))
    if TEMPERATURE in adjust:
        warm = centred(frame[TEMPERATURE], reference)
        warm[logged] = 0.0
    fights = frame.loc[exposure.last_fights, "genus"].value_counts()
    return Lineup(
        foundings=tuple(frame["founding"].astype(str)),
        genera=genera,
        genus=frame["genus"].map({g: i for i, g in enumerate(genera)}).to_numpy(np.int64),
        size=frame["size"].to_numpy(np.int64),
        seen=np.minimum(frame["mating_seen"].to_numpy(np.int64), frame["size"].to_numpy(np.int64)),
        steps1=steps1,
        steps2=steps2,
        pooled_fight=int((fights >= LEAST_FIGHTS).sum()) < LEAST_KEEPERS,
        keepers=keepers,
        flights=flights,
        keeper=keeper,
        flight=flight,
        kinds_within=kinds_within,
        kind_within=kind_within,
        covariates=names,
        x=x,
        warm=warm,
        logged=logged,
        reference=reference,
        notes=(*note1, *note2, *note3, *note4, *told(exposure, adjust)),
    )


def as_dataset(lineup: Lineup) -> xr.Dataset:
    """A lineup as it is kept beside its draws; `from_dataset` reads it back."""
    import xarray as xr

    by_founding = {
        name: ("founding", getattr(lineup, name).astype(np.int64))
        for name in ("genus", "size", "seen", *LEVEL_COLUMNS.values(), "logged")
    }
    return xr.Dataset(
        by_founding
        | {
            "warm": ("founding", lineup.warm),
            "steps1": (("piece_before", "step"), lineup.steps1),
            "steps2": (("piece_after", "step"), lineup.steps2),
            "x": (("founding", "covariate"), lineup.x.reshape(len(lineup.foundings), -1)),
        },
        coords={
            "founding": list(lineup.foundings),
            "genus_name": list(lineup.genera),
            "covariate": list(lineup.covariates),
        }
        | {names: list(getattr(lineup, names)) for names in LEVEL_COLUMNS},
        attrs={
            "pooled_fight": int(lineup.pooled_fight),
            "variant": lineup.variant,
            "reference": lineup.reference,
            "notes": json.dumps(lineup.notes),
        },
    )


def from_dataset(kept: xr.Dataset) -> Lineup:
    """The lineup that `as_dataset` kept."""

    def names(dim: str) -> tuple[str, ...]:
        return tuple(str(name) for name in kept[dim].to_numpy())

    rest: dict[str, Any] = {str(name): kept[name].to_numpy() for name in kept.data_vars}
    rest["logged"] = rest["logged"].astype(bool)
    rest |= {of: names(of) for of in LEVEL_COLUMNS}
    return Lineup(
        foundings=names("founding"),
        genera=names("genus_name"),
        covariates=names("covariate"),
        pooled_fight=bool(kept.attrs["pooled_fight"]),
        variant=kept.attrs["variant"],
        reference=float(kept.attrs["reference"]),
        notes=tuple(json.loads(kept.attrs["notes"])),
        **rest,
    )
