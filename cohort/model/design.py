"""Who is compared with whom: the study turned into indices, sizes and switches for the model.

Comes in: an `Exposure` and the effects asked for. Goes out: a frozen `ModelDesign`. Never: a prior,
a sampler, pymc. Every effect enters only under its entry rule, and a note says what did not.
"""

from __future__ import annotations

import json
import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any, Final, Literal

import numpy as np
import numpy.typing as npt
import pandas as pd

from cohort.base.display import Facts, Shown, several
from cohort.base.frames import compared_by_content
from cohort.likelihood import layout as at
from cohort.likelihood.exposure import Exposure
from cohort.model.on_degree_days import told, who
from cohort.terms.adjusting import Adjust
from cohort.terms.levels import LEVELS, PARTS, SEASON, Level
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
LEAST_LEVELS: Final = 2
"""Levels of a kind with both ways of founding, from which on their differences are in the model.

One keeper with both ways tells the ways apart but nothing of keepers; two tell of both.
"""
LEAST_BEYOND: Final = 3
LEAST_FIGHTS: Final = 3
LEAST_GENERA: Final = 3
_OWN: Final = "level_of_"
"""Before the name of a kind of level, in a design that is kept."""


@dataclass(frozen=True)
class Grouping:
    """Levels of one kind, such as keepers.

    Attributes
    ----------
    names : tuple of str
        Blank for those without one.
    index : int array, shape (foundings,)
        Index of each founding's level.
    """

    names: tuple[str, ...]
    index: Ints


@compared_by_content
@dataclass(frozen=True, repr=False, eq=False)
class ModelDesign(Shown):
    """Indices, sizes and switches of the model; one entry per founding unless said.

    Attributes
    ----------
    foundings, genera : tuple of str
    genus_code : int array
        Index into ``genera``.
    size : int array
        Queens at the start.
    seen : int array
        Queens seen mating.
    steps1, steps2 : float arrays, shapes (pieces, 7)
        What each step of the random walk adds to the log hazard of each piece.
    pooled_fight : bool
        One theta for all genera: too few last fights to tell genera apart.
    levels : mapping of str to Grouping
        By name of the kind of level (`cohort.terms.levels`); those whose entry rule is met.
    covariates : tuple of str
    x : float array, shape (foundings, covariates)
        Centred, and scaled by the SD where numeric.
    moves : bool array, shape (parts, covariates)
        Which parts of the model (`cohort.terms.levels.PARTS`) each covariate may move.
    warm : float array
        Degrees Celsius of each founding's shelf above the mean of the foundings, 0 where not
        known; all 0 unless ``shelf_temperature`` is to move the first worker. Where
        some run on degree-days, degrees above their reference, and 0 for these.
    logged : bool array
        Whether the founding runs on degree-days.
    reference : float
        Degrees Celsius whose days are the unit of those; nan when none does.
    winter : tuple of float, optional
        Of a study that goes through winter: day since day 0 on which it begins for a founding in
        the middle of those that went into one, and its days; even numbers both.
    variant : str
        See `VARIANTS`.
    notes : tuple of str
        What did not enter, and why.
    """

    foundings: tuple[str, ...]
    genera: tuple[str, ...]
    genus_code: Ints
    size: Ints
    seen: Ints
    steps1: Floats
    steps2: Floats
    pooled_fight: bool
    levels: Mapping[str, Grouping] = field(default_factory=dict)
    covariates: tuple[str, ...] = ()
    x: Floats = field(default_factory=lambda: np.zeros((0, 0)))
    moves: Bools = field(default_factory=lambda: np.zeros((len(PARTS), 0), np.bool_))
    warm: Floats = field(default_factory=lambda: np.zeros(0))
    logged: Bools = field(default_factory=lambda: np.zeros(0, np.bool_))
    reference: float = math.nan
    winter: tuple[float, float] | None = None
    variant: Variant = ""
    notes: tuple[str, ...] = ()

    def facts(self) -> tuple[str, Facts]:
        """Sizes of the design, and what enters it."""
        levels = ", ".join(f"{name} ({len(of.names)})" for name, of in self.levels.items())
        return "Design of the founding model", {
            "foundings": f"{several(len(self.foundings), 'founding')} of "
            f"{several(len(self.genera), 'kind')}",
        } | {
            name: told
            for name, told in (
                ("levels", levels),
                ("covariates", ", ".join(self.covariates)),
                ("variant", self.variant),
                ("notes", f"{len(self.notes)}, in .notes" if self.notes else ""),
            )
            if told
        }

    def as_variant(self, variant: Variant) -> ModelDesign:
        """The same study under a named variant of the model."""
        changed = replace(self, variant=variant)
        if variant == "one genus":
            return replace(
                changed,
                genera=("all",),
                genus_code=np.zeros_like(self.genus_code),
                pooled_fight=True,
            )
        return changed

    def adjusted(self, part: str) -> Ints:
        """Which covariates may move a part of the model: indices into ``covariates``."""
        return np.flatnonzero(self.moves[list(PARTS).index(part)])

    def numbered(self, level: str) -> ModelDesign:
        """The same with levels of one kind numbered from 1, for files that name none of them."""
        if level not in self.levels:
            return self
        own = self.levels[level]
        names = tuple(str(i) for i in range(1, len(own.names) + 1))
        return replace(self, levels={**self.levels, level: replace(own, names=names)})

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


def _labels(frame: pd.DataFrame, level: Level) -> pd.Series:
    """The level of each founding, blank where it has none; species behind their genus."""
    label = frame[level.column].fillna("").astype(str).str.strip()
    if level.column == "species":
        return (frame["genus"].astype(str) + " " + label).where(label != "", "")
    return label


def _grouped(frame: pd.DataFrame, level: Level) -> tuple[Grouping | None, tuple[str, ...]]:
    """Levels of one kind with each founding's index, and a note if they stay out.

    Foundings without a level share one of their own, with the same prior. So do species, unless
    two of their genus have both ways of founding: with it the genus alone speaks for them.
    """
    label = _labels(frame, level)
    ways = frame["arm"][label != ""].groupby(label[label != ""]).nunique()
    both = ways.index[ways == 2]
    if level.column == "species":
        genera = frame.loc[label.isin(both)].groupby("genus")["species"].nunique()
        several = frame["genus"].isin(genera.index[genera >= LEAST_LEVELS])
        label = label.where(label.isin(both) & several, "")
        count = int(label[label != ""].nunique())
    else:
        count = len(both)
    if count < LEAST_LEVELS:
        return None, (_stays_out(level, count),) if len(ways) else ()
    names = tuple(sorted(label.unique()))
    index = label.map({name: i for i, name in enumerate(names)}).to_numpy(np.int64)
    return Grouping(names, index), ()


def _stays_out(level: Level, count: int) -> str:
    """Why differences between levels are not in the model."""
    if level is SEASON:
        return (
            "Differences from season to season are not told apart here: that takes "
            f"{LEAST_LEVELS} seasons that each have both ways of founding. What is said of the "
            "next season takes them from what was assumed beforehand."
        )
    of_genus = " of one genus" if level.column == "species" else ""
    return (
        f"Differences from {level.word} to {level.word} are not in the model: that takes "
        f"{LEAST_LEVELS} {level.words.split()[0]}{of_genus} that each have both ways of founding; "
        f"here: {count}."
    )


def model_design(exposure: Exposure, *, adjust: Adjust | Iterable[str] = ()) -> ModelDesign:
    """The design of a packed study.

    Parameters
    ----------
    exposure : Exposure
    adjust : Adjust or iterable of str
        Columns of the history to adjust for, by what they may move; a plain list moves the
        survival before and with workers.

    Raises
    ------
    StudyError
        A column to adjust for does not exist, has one value, or is blank in half the rows.
    """
    from cohort.model.covariates import covariate_columns, moves_of

    frame, adjust = exposure.foundings, Adjust.of(adjust)
    genera = tuple(sorted(frame["genus"].astype(str).unique()))
    steps1, steps2 = walk_steps(exposure.loss_days1, exposure.loss_days2)
    grouped = {level.name: _grouped(frame, level) for level in LEVELS}
    made = covariate_columns(frame, adjust)
    logged, reference = who(exposure)
    warm = np.zeros(len(frame))
    if TEMPERATURE in adjust.first_worker:
        warm = centred(frame[TEMPERATURE], reference)
        warm[logged] = 0.0
    fights = frame.loc[exposure.last_fights, "genus"].value_counts()
    return ModelDesign(
        foundings=tuple(frame["founding"].astype(str)),
        genera=genera,
        genus_code=frame["genus"].map({g: i for i, g in enumerate(genera)}).to_numpy(np.int64),
        size=frame["size"].to_numpy(np.int64),
        seen=np.minimum(frame["mating_seen"].to_numpy(np.int64), frame["size"].to_numpy(np.int64)),
        steps1=steps1,
        steps2=steps2,
        pooled_fight=int((fights >= LEAST_FIGHTS).sum()) < LEAST_GENERA,
        levels={name: own for name, (own, _) in grouped.items() if own is not None},
        covariates=made.names,
        x=made.x,
        moves=moves_of(made, adjust),
        warm=warm,
        logged=logged,
        reference=reference,
        winter=exposure.winter,
        notes=(
            *(note for _, notes in grouped.values() for note in notes),
            *made.notes,
            *told(exposure, adjust),
        ),
    )


def as_dataset(design: ModelDesign) -> xr.Dataset:
    """A design as it is kept beside its draws; `from_dataset` reads it back."""
    import xarray as xr

    by_founding = {
        name: ("founding", values.astype(np.int64))
        for name, values in {
            "genus": design.genus_code,
            "size": design.size,
            "seen": design.seen,
            "logged": design.logged,
        }.items()
    }
    by_founding |= {f"{_OWN}{n}": ("founding", own.index) for n, own in design.levels.items()}
    return xr.Dataset(
        by_founding
        | {
            "warm": ("founding", design.warm),
            "steps1": (("piece_before", "step"), design.steps1),
            "steps2": (("piece_after", "step"), design.steps2),
            "x": (("founding", "covariate"), design.x.reshape(len(design.foundings), -1)),
            "moves": (("part", "covariate"), design.moves.astype(np.int64)),
        },
        coords={
            "founding": list(design.foundings),
            "genus_name": list(design.genera),
            "covariate": list(design.covariates),
        }
        | {name: list(own.names) for name, own in design.levels.items()},
        attrs={
            "pooled_fight": int(design.pooled_fight),
            "variant": design.variant,
            "reference": design.reference,
            "notes": json.dumps(design.notes),
        }
        | ({} if design.winter is None else {"winter": list(design.winter)}),
    )


def from_dataset(kept: xr.Dataset) -> ModelDesign:
    """The design that `as_dataset` kept."""

    def names(dim: str) -> tuple[str, ...]:
        return tuple(str(name) for name in kept[dim].to_numpy())

    rest: dict[str, Any] = {str(name): kept[name].to_numpy() for name in kept.data_vars}
    rest["genus_code"] = rest.pop("genus")
    rest["logged"], rest["moves"] = rest["logged"].astype(bool), rest["moves"].astype(bool)
    levels = {
        level.name: Grouping(names(level.name), rest.pop(f"{_OWN}{level.name}"))
        for level in LEVELS
        if f"{_OWN}{level.name}" in rest
    }
    return ModelDesign(
        foundings=names("founding"),
        genera=names("genus_name"),
        levels=levels,
        covariates=names("covariate"),
        pooled_fight=bool(kept.attrs["pooled_fight"]),
        variant=kept.attrs["variant"],
        reference=float(kept.attrs["reference"]),
        winter=_winter(kept.attrs.get("winter")),
        notes=tuple(json.loads(kept.attrs["notes"])),
        **rest,
    )


def _winter(kept: Any) -> tuple[float, float] | None:
    """What is kept of winter; a study that does not go through it has none."""
    return None if kept is None else (float(kept[0]), float(kept[1]))
