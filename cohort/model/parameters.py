"""The table of parameters: each parameter of the founding model, once.

Comes in: nothing. Goes out: `TABLE`, one row per parameter: name, prior with its reason, dims,
what makes it enter, the SD that multiplies it, where the compiled code reads it, its name in the
simulator. Never: data, a draw.

All else about a parameter is made from its row: its place in the sampler's vector, draws of its
prior, the PyMC model, its name and dims in a posterior, the printed table, the checklists.

Rows are those of ``data/findings.csv``, by their number. Few of these numbers rest on a row; the
others are guesses, and say so. Mortality rests on one. Row 6 (Stukalyuk & Czaczkes 2024, groups of
*Lasius niger*) has 75 % of queens alive at 227 days in a dense population, which is 0.0013 a day
if deaths are even, and fewer than 20 % at 130 days in an ordinary one, which is 0.0124 a day or
more. Both take in deaths after the first workers and by rivals, so neither is the hazard of a lone
founding queen. The middle of the prior lies halfway between them on the log scale, 0.004, and its
SD is 1.2: the 0.0013 lies 0.9 SDs down, the 0.0124 lies 0.9 SDs up. Both are ordinary under it, as
they are in keepers' hands: a beginner who loses one lone queen in a hundred on an ordinary day is
no exception (common practice, no source). Wild foundings fail in up to 95 and 99 of 100 cases (rows
29 and 30); kept ones are spared most of what kills those.

SDs are wide on purpose. With two thirds of them and rivalry centred at 1, half of the 90 %
intervals of simulated studies in which company helped strongly missed the truth.

The threshold of the degree-days is one number for all genera of a study: shelf logs are few, and
within a study the threshold is known from the differences between shelves alone. Normal(12, 3),
cut off at 4 C and at 20 C or 3 C below the mean of the shelves. Published thresholds are 18.3 C
(*Solenopsis invicta*, Porter 1988 as given by Jarosik et al. 2011) and 15.9 and 18.4 C
(*Linepithema humile*, two studies); both live in warm countries, and the higher ones lie two SDs
up. For species of cooler summers, which start lower, no value was found: the centre is a guess.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from math import log
from typing import TYPE_CHECKING, Final

from cohort.likelihood import layout as at
from cohort.model.families import (
    Beta,
    BetweenGenera,
    CutNormal,
    HalfNormal,
    LogNormal,
    Normal,
    Prior,
)  # fmt: skip
from cohort.terms.levels import AFTER, BEFORE, FIRST_WORKER, LEVELS, MATED, PARTS
from cohort.warmth import LOG_DAYS_PER_DEGREE

if TYPE_CHECKING:
    from cohort.model.design import ModelDesign

NEVER: Final = -40.0
"""Logit of a chance that is as good as none."""
EFFECTS: Final = (
    "founding_hazard",
    "together",
    "worker_hazard",
    "rivalry",
    "last_fight",
    "first_worker",
)
"""Effects that differ between genera, in the order of every array that holds them all."""


def _always(design: ModelDesign) -> bool:
    return True


@dataclass(frozen=True)
class Parameter:
    """One row of the table.

    Attributes
    ----------
    name : str
        In draws, in the PyMC model and in tables.
    prior : Prior or None
        None for standard normals that an SD multiplies.
    says : str
        What it is, in plain words.
    why : str
        Reason for its prior.
    dims : tuple of str
        Names of its dims in draws, chain and draw aside.
    sd : str
        Parameter that multiplies it; blank where none does.
    enters : callable
        Whether a `ModelDesign` tells of it; else it stays at its prior and is not named.
    shared : int
        Column of what all foundings share (`cohort.likelihood.layout`), -1 where it is none.
    fixed : mapping of str to float
        Variants of the model that hold it at a value.
    only_in : str
        The one variant that has it; elsewhere it is held at ``otherwise``.
    otherwise : float
    of : str
        Kind of level (`cohort.terms.levels`) whose effects these are; blank where it is none.
    leaves : bool
        Whether it has no place in the vector that is sampled where it does not enter.
    part : str
        Part of the model that these effects of levels or coefficients of covariates move.
    truth : str
        Field of `cohort.simulate.truth.GenusTruth`; blank where the simulator has none by that
        name.
    """

    name: str
    prior: Prior | None
    says: str = ""
    why: str = ""
    dims: tuple[str, ...] = ()
    sd: str = ""
    enters: Callable[[ModelDesign], bool] = _always
    shared: int = -1
    fixed: Mapping[str, float] = field(default_factory=dict)
    only_in: str = ""
    otherwise: float = 0.0
    of: str = ""
    part: str = ""
    truth: str = ""
    leaves: bool = False

    def fixed_at(self, variant: str) -> float | None:
        """The value at which a variant of the model holds it; None where it is free."""
        if self.only_in and variant != self.only_in:
            return self.otherwise
        return self.fixed.get(variant)


def _has(level: str) -> Callable[[ModelDesign], bool]:
    return lambda design: level in design.levels


def _adjusts(part: str) -> Callable[[ModelDesign], bool]:
    return lambda design: len(design.adjusted(part)) > 0


_SURVIVAL: Final = (
    "a guess: {words} may differ as much as genera do (their SD before workers is also "
    "HalfNormal(0.5)); at the middle of it, .34, one in six stands .34 off, a risk 1.4 times as "
    "high"
)
_DAY: Final = (
    "a guess: two degrees more or less move the log day by .16 (warm_days), and {words} may differ "
    "by so much"
)
_LEVEL_SDS: Final = tuple(
    Parameter(
        f"{level.parameter(part)}_sd",
        HalfNormal(0.2 if part == FIRST_WORKER else 0.5),
        f"SD between {level.words}, {PARTS[part]}",
        (_DAY if part == FIRST_WORKER else _SURVIVAL).format(words=level.words),
        enters=_has(level.name),
    )
    for level in LEVELS
    for part in level.moves
)
_SLOPES: Final = {
    BEFORE: (
        Normal(0.0, 0.5),
        "effect of a scaled covariate on the log hazard before workers",
        "one SD of a covariate seldom more than doubles a hazard",
    ),
    AFTER: (
        Normal(0.0, 0.5),
        "effect of a scaled covariate on the log hazard with workers",
        "one SD of a covariate seldom more than doubles a hazard",
    ),
    FIRST_WORKER: (
        Normal(0.0, 0.15),
        "effect of a scaled covariate on the log day of the first worker",
        "a guess: one SD of a covariate seldom moves the first worker by more than a third",
    ),
    MATED: (
        Normal(0.0, 0.7),
        "effect of a scaled covariate on the logit of being mated",
        "a guess, as wide as for a mating that was seen",
    ),
}
COMMON: Final = (
    Parameter(
        "size_step",
        Normal(0.0, 0.4),
        "change of the ratio in company before workers, per doubling of the group beyond two",
        "intermediate groups best in some genera (findings.csv row 19; row 12: two above one, "
        "four not), large ones worst in others (row 27); the SD, half as large again for each "
        "doubling, is a guess",
        shared=at.S_SIZE_STEP,
        truth="doubling",
    ),
    Parameter(
        "size_step_rivalry",
        Normal(0.0, 0.3),
        "change of the log rivalry ratio per doubling of the group beyond two",
        "a guess, in favour of neither sign: no row tells of rivalry by the size of the group",
        shared=at.S_SIZE_STEP_RIVALRY,
        fixed={"no rivalry": 0.0},
        truth="rivalry_doubling",
    ),
    Parameter(
        "multi_days",
        Normal(-0.05, 0.25),
        "log time ratio of the first worker, several against one",
        "8 % earlier (findings.csv row 24), no difference (row 22) and about 9 days earlier (row "
        "14) were reported; 9 of 50 days are -0.20, so the SD takes in that and as much the other "
        "way",
        shared=at.S_MULTI_DAYS,
        truth="multi_days",
    ),
    Parameter(
        "within_days",
        LogNormal(-1.9, 0.6),
        "SD of the log day of the first worker within a genus",
        "a guess, median .15 and nine in ten between .06 and .40: foundings of one kind differ by "
        "some days, never by none; a prior that reaches nought lets looks days apart draw walls "
        "into the likelihood",
        shared=at.WITHIN_DAYS,
        truth="within_days",
    ),
    Parameter(
        "frailty_sd",
        HalfNormal(0.7),
        "SD of founding frailty",
        "0.48 to 0.81 on this scale in caged bees (no row; where it was read is not recorded)",
        shared=at.SIGMA,
        fixed={"no frailty": 0.0},
        truth="frailty",
    ),
    Parameter(
        "mated",
        Beta(6.0, 1.5),
        "share of mated queens",
        "no published share: a guess, mean .8 and nine in ten between .53 and .97: among queens "
        "picked up after a flight some had not mated (common practice, no source)",
        shared=at.S_MATED,
        fixed={"no fertile fraction": 1.0},
        truth="mated",
    ),
    Parameter(
        "seen",
        Normal(1.0, 0.7),
        "what a mating that was seen adds on the logit of being mated",
        "a guess: seen is better than not seen",
        enters=lambda design: bool(design.seen.any()),
        shared=at.S_SEEN,
        truth="mating_seen",
    ),
    Parameter(
        "loading",
        Normal(1.0, 0.5),
        "weight of frailty after workers, in one variant",
        "a guess: what makes a founding frail before workers makes it so after, more or less",
        enters=lambda design: design.variant == "free loading",
        shared=at.LOADING,
        only_in="free loading",
        otherwise=1.0,
    ),
    Parameter(
        "warm_threshold",
        CutNormal(12.0, 3.0),
        "temperature above which a shelf with a log counts, degrees Celsius",
        "15.9 to 18.4 in two warm-country ants; lower elsewhere, a guess",
        enters=lambda design: bool(design.logged.any()),
        shared=at.S_THRESHOLD,
    ),
    Parameter(
        "warm_days",
        Normal(*LOG_DAYS_PER_DEGREE),
        "change of the log day of the first worker per degree of the shelf",
        "-0.15 to -0.10 in two warm-country ants, less where thresholds are lower",
        enters=lambda design: bool(design.warm.any()),
    ),
    *_LEVEL_SDS,
    Parameter(
        "walk_sd",
        HalfNormal(0.5),
        "SD of the steps of the log hazards, before and after the first worker",
        "a hazard may double or halve from piece to piece",
        dims=("phase",),
    ),
    Parameter("walk", None, dims=("step",), sd="walk_sd"),
    Parameter(
        "winter",
        Normal(-0.7, 1.0),
        "log ratio of a lone queen's hazard in winter rest to that of the level piece",
        "a guess, no row of findings.csv tells of it: half the risk of a summer day, for life is "
        "slow in the cold; nine in ten between a tenth and 2.6 times, as tubes dry out or freeze",
        enters=lambda design: design.winter is not None,
        shared=at.WINTER,
        truth="winter",
        leaves=True,
    ),
    Parameter(
        "winter_company",
        Normal(0.0, 0.7),
        "log ratio in winter rest while two or more live, before and with workers",
        "a guess, in favour of neither sign: one SD is a risk twice as high or as low",
        enters=lambda design: design.winter is not None,
        shared=at.WINTER_COMPANY,
        truth="winter_company",
        leaves=True,
    ),
)
"""What genera share: numbers, SDs and the steps of the hazards, in the order of the vector."""

BY_GENUS: Final = (
    Parameter(
        "founding_hazard",
        BetweenGenera(log(0.004), 1.2, 0.5),
        "log daily hazard of a lone founding queen, days 21-42",
        "a guess halfway between 0.0013 and 0.0124 or more per day, both of groups and past the "
        "first workers (findings.csv row 6), each 0.9 SDs off; no row has lone queens before "
        "workers",
        truth="log_hazard",
    ),
    Parameter(
        "together",
        BetweenGenera(0.0, 1.2, 0.7),
        "log ratio of that hazard while two or more live, before workers",
        "the sign of the effect of company differs between genera (findings.csv, better: rows 18,"
        " 19, 25; worse: rows 11, 16, 21, 27); neither way is favoured; how far is a guess: one SD "
        "is a risk 3.3 times as high or as low",
        truth="together",
    ),
    Parameter(
        "worker_hazard",
        BetweenGenera(log(0.002), 1.2, 0.4),
        "log daily hazard of a lone queen in the first ten days with workers",
        "a guess: 75 % alive at 227 days is 0.0013 per day (findings.csv row 6, of groups); as "
        "wide as before workers",
        truth="log_hazard_workers",
    ),
    Parameter(
        "rivalry",
        BetweenGenera(0.5, 1.5, 1.0),
        "log ratio while two or more live, after workers",
        "reduced to one queen in some genera (findings.csv rows 2, 8), several or all kept in "
        "others (rows 9, 20, 28); how far is a guess: that queens in company die less often than "
        "lone ones has chance .37 in the mean of the genera",
        fixed={"no rivalry": 0.0},
        truth="rivalry",
    ),
    Parameter(
        "last_fight",
        BetweenGenera(-1.6, 0.8, 0.8),
        "logit of the share of losses from two that take both",
        "all lost in over 60 % of groups in one study (findings.csv row 5); in few in others, a "
        "guess",
        fixed={"last fight takes one": NEVER},
        truth="last_fight",
    ),
    Parameter(
        "first_worker",
        BetweenGenera(log(50.0), 0.35, 0.3),
        "mean log day of the first worker",
        "25 to 94 days by temperature and species: a guess, no row of findings.csv gives days",
        truth="log_median_day",
    ),
)
"""Effects that differ between genera; in a posterior also ``<name>_mean`` and ``<name>_sd``."""

BY_FOUNDING: Final = (
    Parameter("frailty", None, dims=("founding",), sd="frailty_sd"),
    *(
        Parameter(
            level.parameter(part),
            None,
            dims=(level.name,),
            sd=f"{level.parameter(part)}_sd",
            enters=_has(level.name),
            of=level.name,
            part=part,
        )
        for level in LEVELS
        for part in level.moves
    ),
    *(
        Parameter(
            f"slope_{part}",
            *_SLOPES[part],
            dims=(f"covariate_{part}",),
            enters=_adjusts(part),
            part=part,
        )
        for part in PARTS
    ),
)
"""What sets foundings apart, in the order of the vector."""

TABLE: Final = {row.name: row for row in (*BY_GENUS, *COMMON, *BY_FOUNDING)}
"""Every parameter by its name, effects of genera first, as it is printed."""

IN_EVERY_STUDY: Final = tuple(row.name for row in COMMON if row.enters is _always)
"""Names of what genera share and no study lacks."""
