"""Published experiments as worlds: their groups, numbers and days, with the effect they reported.

In: nothing. Out: :data:`EXPERIMENTS`, each an :class:`Experiment` with the worlds of its effects.
Never: a part of the model.

No paper was found whose counts could be read founding by founding. What could be read are
summaries: how many queens together, how many groups, for how long, which way did better and
sometimes by how much. Each experiment below says which of its numbers were read, which were worked
out from those, and which are ours because the paper, as far as it was read, does not tell them.

Common to all, and ours: 95 of 100 queens mated, a frailty with standard deviation 0.3 (the same
species, one shelf), a hazard that is even within a phase, and one fight in ten that kills both of
the last two. Rows are those of ``data/findings.csv``.
"""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Mapping
from dataclasses import dataclass
from functools import partial
from typing import Any, Final, Literal

import numpy as np
import pandas as pd

from cohort.simulate.daily import Lives
from cohort.simulate.design import Design
from cohort.simulate.looks import Looks
from cohort.simulate.scenario import Scenario
from cohort.simulate.truth import GenusTruth, Truth
from cohort.terms.questions import AVERAGE

__all__ = ["EFFECTS", "EXPERIMENTS", "Claim", "Experiment"]

Counts = Mapping[tuple[str, int], int]
"""Foundings by genus and queens at the start."""
Found = Literal["multi", "single", "same", "above", "below"]

EFFECTS: Final = ("published", "none", "reversed")
"""What may be true of an experiment: what its paper found, no effect, the other way round."""
_OWN: Final[dict[str, Any]] = {"mated": 0.95, "frailty": 0.3, "last_fight": 0.1}
_LOG3: Final = math.log(3.0)


@dataclass(frozen=True)
class Claim:
    """What a paper concluded, as a number of ours.

    Parameters
    ----------
    row : int
        Of ``data/findings.csv``.
    quantity : str
        As in ``comparisons.csv``.
    queens : int
        Size of the group spoken of.
    found : str
        Of a contrast: which way did better (``multi``, ``single``) or ``same``. Of a number that
        has no contrast: ``above`` or ``below`` `line`.
    says : str
        The paper's conclusion, in plain words.
    genus : str
        A kind, or all together.
    line : float
        See `found`; nan for contrasts.
    day : int
        Of a number without a contrast: days it speaks of; -1 where it has none. A contrast is read
        on the day of its verdict.
    wrong : tuple of str
        The effects under which the conclusion does not hold.
    """

    row: int
    quantity: str
    queens: int
    found: Found
    says: str
    genus: str = AVERAGE
    line: float = math.nan
    day: int = -1
    wrong: tuple[str, ...] = ("none", "reversed")


@dataclass(frozen=True)
class Experiment:
    """A published experiment.

    Parameters
    ----------
    name : str
    paper : str
    read, ours : str
        Which numbers were read, and which are ours.
    worlds : mapping of str to Scenario
        By effect (`EFFECTS`).
    claims : tuple of Claim
    """

    name: str
    paper: str
    read: str
    ours: str
    worlds: Mapping[str, Scenario]
    claims: tuple[Claim, ...]


def _as_counted(
    plan: pd.DataFrame, rng: np.random.Generator, *, counts: Counts, assigned: str
) -> pd.DataFrame:
    """As many foundings of each genus and size as the paper had; which came first is chance."""
    each = [(genus, size) for (genus, size), number in counts.items() for _ in range(number)]
    order = rng.permutation(len(each))
    return plan.assign(
        genus=[each[i][0] for i in order],
        size=[each[i][1] for i in order],
        start=0,
        flight_day=0,
        keeper=0,
        assigned=assigned,
    )


def _ends(
    plan: pd.DataFrame,
    looks: Looks,
    lives: Lives,
    rng: np.random.Generator,
    *,
    last: Mapping[str, int],
) -> Looks:
    """Looks of a kind stop after the day on which its paper stopped."""
    until = plan["genus"].map(lambda genus: last.get(genus, math.inf)).to_numpy(dtype=float)
    return dataclasses.replace(looks, open=looks.open & (looks.days <= until[:, None]))


def _worlds(
    name: str,
    counts: Counts,
    truths: Mapping[str, Mapping[str, GenusTruth]],
    *,
    days: int,
    every: int,
    assigned: str = "random",
    last: Mapping[str, int] | None = None,
) -> dict[str, Scenario]:
    design = Design(
        foundings=sum(counts.values()),
        sizes=(1,),
        keepers=1,
        look_every=every,
        horizon=days,
        flights=1,
        flight_span=0,
    )
    return {
        effect: Scenario(
            f"{name}-{effect}",
            f"The experiment {name}; effect: {effect}.",
            design=design,
            truth=Truth(dict(truth)),
            plan=partial(_as_counted, counts=counts, assigned=assigned),
            looks=partial(_ends, last=last or {}),
        )
        for effect, truth in truths.items()
    }


def _californicus() -> Experiment:
    """Company helps queens to survive: *Pogonomyrmex californicus*, rows 18 and 19.

    Read (abstracts): 1, 3, 6 or 9 queens; 50 days; queens in groups lived longer (Shaffer et al.
    2022, doi 10.3389/fevo.2022.768752). In all experiments of another paper survival rose with the
    number of queens, 1 to 5 (Johnson 2004).

    Neither abstract tells how many nests there were or by how much survival differed. Ours:
    15, 12, 10 and 8 nests, looks every other day, first workers about day 35; half of the queens
    alone are dead after 50 days, ln 2 / 50 = 0.0139 a day, and company divides that by three
    (the factor of the pairs of Masoni et al. below, the other way round).
    """
    lone = math.log(math.log(2) / 50)

    def truth(company: float) -> dict[str, GenusTruth]:
        own = GenusTruth(
            log_hazard=lone,
            together=company,
            log_hazard_workers=lone,
            rivalry=company,
            log_median_day=math.log(35.0),
            multi_days=0.0,
            **_OWN,
        )
        return {"Pogonomyrmex": own}

    return Experiment(
        "californicus",
        "Shaffer et al. 2022; Johnson 2004",
        "queens per nest, days, direction",
        "nests of each size, looks, the size of the effect, lone hazard, day of first workers",
        _worlds(
            "californicus",
            {("Pogonomyrmex", k): n for k, n in {1: 15, 3: 12, 6: 10, 9: 8}.items()},
            {"published": truth(-_LOG3), "none": truth(0.0), "reversed": truth(_LOG3)},
            days=50,
            every=2,
        ),
        (
            Claim(19, "hazard_ratio", 3, "multi", "queens in groups lived longer"),
            Claim(19, "queen_days", 6, "multi", "queens in groups lived longer"),
        ),
    )


def _scutellaris() -> Experiment:
    """Company harms, and workers come no sooner: *Crematogaster scutellaris*, rows 21 and 22.

    Read: 26 natural pairs and 15 single queens, followed to 28 days after workers at most (an
    earlier report of the same group of authors, read in a search excerpt); deaths of paired queens
    always more frequent; time to the first worker equal (Masoni et al. 2017, abstract). Queens had
    nested by themselves, alone or in pairs: nobody drew lots, and the sheets say so.

    Worked out: no size is printed. A log-rank test of 52 queens in pairs and 15 alone finds a
    hazard ratio in four of five such experiments if (1.96 + 0.842)^2 = d p (1 - p) (log ratio)^2
    (Schoenfeld 1981, doi 10.1093/biomet/68.1.316), with p = 52/67 in pairs and d deaths. If half of
    the 67 die, d = 33, p (1 - p) = 0.174 and the ratio is exp(2.802 / sqrt(5.73)) = 3.2. Half are
    dead on day 73 (45 + 28) if S, the share of lone queens alive, solves
    15 (1 - S) + 52 (1 - S^3.2) = 33.5: S = 0.765, -ln S / 73 = 0.0037 a day. (Somewhat fewer die:
    a queen left alone is in company no more.)

    Ours: looks every week; first workers about day 45, in the reversed world a fifth sooner in
    pairs.
    """
    ratio = math.exp(2.802 / math.sqrt(33 * (52 / 67) * (15 / 67)))
    lone = math.log(-math.log(0.765) / 73)

    def truth(company: float, days: float = 0.0) -> dict[str, GenusTruth]:
        own = GenusTruth(
            log_hazard=lone,
            together=company,
            log_hazard_workers=lone,
            rivalry=company,
            log_median_day=math.log(45.0),
            multi_days=days,
            **_OWN,
        )
        return {"Crematogaster": own}

    log_ratio = math.log(ratio)
    return Experiment(
        "scutellaris",
        "Masoni et al. 2017",
        "pairs and single queens, days after workers, direction, no difference in time",
        "looks, day of first workers; the size of the effect is worked out from the counts",
        _worlds(
            "scutellaris",
            {("Crematogaster", 1): 15, ("Crematogaster", 2): 26},
            {
                "published": truth(log_ratio),
                "none": truth(0.0),
                "reversed": truth(-log_ratio, math.log(0.8)),
            },
            days=73,
            every=7,
            assigned="chosen",
        ),
        (
            Claim(21, "hazard_ratio", 2, "single", "deaths of paired queens more frequent"),
            Claim(21, "queen_days", 2, "single", "deaths of paired queens more frequent"),
            Claim(22, "time_ratio", 2, "same", "time to the first worker equal",
                  wrong=("reversed",)),
        ),
    )  # fmt: skip


def _smaragdina() -> Experiment:
    """The first worker comes sooner: *Oecophylla smaragdina*, row 24.

    Read (abstract): 1 to 5 queens; 68 days; the first worker on average 4.3 days (8 %) earlier
    than with one queen (Offenberg, Peng and Nielsen 2012, Insectes Sociaux 59:307-311).

    Worked out: 4.3 days are 8 % of 53.75 days, so log median 3.984 alone and log 0.92 = -0.0834
    together. No error is printed. With 10 single queens and 8 groups of each other size, 32, a
    two-sample test finds that in four of five experiments if days spread by
    0.0834 / 2.802 / sqrt(1/10 + 1/32) = 0.082 on the log scale.

    Ours: those numbers of foundings, looks every other day, a hazard of 0.002 a day, the same in
    company.
    """
    gain = math.log(0.92)
    spread = -gain / 2.802 / math.sqrt(1 / 10 + 1 / 32)

    def truth(days: float) -> dict[str, GenusTruth]:
        own = GenusTruth(
            log_hazard=math.log(0.002),
            log_hazard_workers=math.log(0.002),
            rivalry=0.0,
            log_median_day=math.log(4.3 / 0.08),
            multi_days=days,
            within_days=spread,
            **_OWN,
        )
        return {"Oecophylla": own}

    return Experiment(
        "smaragdina",
        "Offenberg, Peng & Nielsen 2012",
        "queens per colony, days, 4.3 days or 8 % earlier",
        "colonies of each size, looks, hazards; the spread is worked out",
        _worlds(
            "smaragdina",
            {("Oecophylla", 1): 10} | {("Oecophylla", k): 8 for k in (2, 3, 4, 5)},
            {"published": truth(gain), "none": truth(0.0), "reversed": truth(-gain)},
            days=68,
            every=2,
        ),
        (
            Claim(24, "time_ratio", 3, "multi", "first worker 8 % earlier in groups"),
            Claim(24, "median_day", 3, "multi", "first worker 4.3 days earlier in groups"),
        ),
    )


def _two_kinds() -> Experiment:
    """One kind comes down to a single queen and the other does not, in one study: rows 8 and 9.

    Read (abstract): *Lasius paralienus*, 8 groups of 5 queens and 8 of 3, up to 293 days, until one
    queen was left; *Solenopsis fugax*, 9 groups of 5, 115 days, most queens survived; counted once
    a week (Stukalyuk et al. 2024, Zoodiversity 58).

    Worked out: all 16 groups of *Lasius* came down to one. The chance of several left under which
    16 of 16 would be as likely as not is 1 - 0.5^(1/16) = 0.042. A queen lives through the 248
    days from the first worker (day 45, ours) to day 293 with chance q; of 5 two or more do with
    chance 0.042 if q = 0.070, so she dies at -ln q / 248 = 0.0107 a day in company. "Most" of
    *Solenopsis* is taken as three of four in 115 days: 0.0025 a day, in company or not.

    Ours: before workers and of queens alone 0.0025 a day in both; and 8 single foundings of each
    kind, which the paper did not have: our comparison asks for both ways of founding. What is left
    of groups does not hang on them but through the hazard alone. In the reversed world the two
    kinds are exchanged; in that without an effect both live as *Solenopsis* does.
    """
    calm = -math.log(0.75) / 115
    fights = math.log(-math.log(0.070) / 248 / calm)

    def kind(rivalry: float) -> GenusTruth:
        return GenusTruth(
            log_hazard=math.log(calm),
            log_hazard_workers=math.log(calm),
            rivalry=rivalry,
            log_median_day=math.log(45.0),
            multi_days=0.0,
            **_OWN,
        )

    def truth(lasius: float, solenopsis: float) -> dict[str, GenusTruth]:
        return {"Lasius": kind(lasius), "Solenopsis": kind(solenopsis)}

    counts = {
        ("Lasius", 1): 8,
        ("Lasius", 3): 8,
        ("Lasius", 5): 8,
        ("Solenopsis", 1): 8,
        ("Solenopsis", 5): 9,
    }
    fights_on = "queens die once workers are there, until one is left"
    return Experiment(
        "two-kinds",
        "Stukalyuk et al. 2024 (Zoodiversity)",
        "groups and their sizes, looks, days, one queen left or most",
        "single foundings, day of first workers, lone hazards, three of four for most",
        _worlds(
            "two-kinds",
            counts,
            {
                "published": truth(fights, 0.0),
                "none": truth(0.0, 0.0),
                "reversed": truth(0.0, fights),
            },
            days=293,
            every=7,
            last={"Solenopsis": 115},
        ),
        (
            Claim(8, "rivalry_ratio", 5, "above", fights_on, "Lasius", 1.0),
            Claim(9, "expected_left", 5, "above", "most queens survive", "Solenopsis", 2.5, 90,
                  wrong=("reversed",)),
        ),
    )  # fmt: skip


EXPERIMENTS: Final = {
    one.name: one for one in (_californicus(), _scutellaris(), _smaragdina(), _two_kinds())
}
"""By name."""
