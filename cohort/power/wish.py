"""What is wished of a study, and the truth of each simulated season.

Comes in: numbers and names. Goes out: a frozen `Wish`, and a `Truth` by seed. Never: a fit.

Genera differ: each has its own deviation from the truth wished for, drawn by seed at a share of
the prior spread between genera (`spread`).
"""

from __future__ import annotations

import math
from dataclasses import asdict, dataclass, field
from typing import Any, Final

import numpy as np

from cohort.base.errors import StudyError
from cohort.model.priors import EFFECTS, Priors
from cohort.outcomes.table import DIRECT, SINGLE_QUEENS
from cohort.simulate.design import Design
from cohort.simulate.truth import GenusTruth, Truth
from cohort.terms.near import did_you_mean
from cohort.terms.questions import AVERAGE, QUANTITIES

EFFECT_NAMES: Final = {
    "together": "how many times as often a queen in company dies before workers (1: no effect)",
    "rivalry": "the same once workers are there",
    "takes-both": "share (0 to 1) of fights of the last two that leave none",
    "time": "how many times as long groups wait for workers",
    "mated": "share (0 to 1) of queens that are mated",
    "deaths": "deaths per lone queen and day before workers",
    "frailty": "spread (SD of the log hazard) between foundings",
}
"""What may be set true, and what it means."""
WORDS: Final = (
    "Lasius",
    "Messor",
    "Formica",
    "Tetramorium",
    "Camponotus",
    "Myrmica",
    "Crematogaster",
    "Temnothorax",
    "Aphaenogaster",
    "Pheidole",
    "Pogonomyrmex",
    "Tapinoma",
)
LEAST_PER_WAY: Final = 2


@dataclass(frozen=True)
class Wish:
    """A study one might do, and what is true in it.

    Attributes
    ----------
    genera : int
    sizes : tuple of int
        Queens per founding; each comes up equally often.
    effect : dict of str to float
        See `EFFECT_NAMES`; what is not named is as in `GenusTruth`.
    contrast : str
        A quantity with a contrast, see `cohort.terms.questions`.
    kind : str
        ``average`` or ``new``.
    horizon, look_every : int
        Days.
    level : float
        Mass of the interval.
    spread : float
        Between genera, as a share of the prior scale; 0 = all alike.
    """

    genera: int
    sizes: tuple[int, ...] = (1, 3)
    effect: dict[str, float] = field(default_factory=dict)
    contrast: str = "same_queens_any"
    kind: str = AVERAGE
    horizon: int = 180
    look_every: int = 5
    level: float = 0.9
    spread: float = 0.5

    def as_dict(self) -> dict[str, Any]:
        """Plain values, for the folder of replicates."""
        return asdict(self) | {"sizes": list(self.sizes)}


def contrasts() -> tuple[str, ...]:
    """Quantities that have a contrast of groups against singles."""
    return tuple(
        name
        for (_, name), quantity in QUANTITIES.items()
        if quantity.drawn
        and name not in SINGLE_QUEENS
        and (name in DIRECT or quantity.better != "none")
    )


def check(wish: Wish, foundings: tuple[int, ...]) -> None:
    """Refuse a study that cannot be, in plain words.

    Raises
    ------
    StudyError
    """
    if not 1 <= wish.genera <= len(WORDS):
        raise StudyError(f"--genera: from 1 to {len(WORDS)} genera can be simulated.")
    sizes = wish.sizes
    if 1 not in sizes or len(sizes) < 2 or len(set(sizes)) != len(sizes) or max(sizes) > 12:
        raise StudyError(
            "--split: write 1 and one or more sizes of group up to 12, such as 1,3: a comparison "
            "needs both ways."
        )
    least = wish.genera * len(sizes) * LEAST_PER_WAY
    if min(foundings) < least:
        raise StudyError(
            f"--foundings: {min(foundings)} are too few for {wish.genera} genera in "
            f"{len(sizes)} ways; at least {least}, {LEAST_PER_WAY} of each."
        )
    for name, value in wish.effect.items():
        if name not in EFFECT_NAMES:
            raise StudyError(
                f"--effect: '{name}' is none of {', '.join(EFFECT_NAMES)}. "
                f"{did_you_mean(name, EFFECT_NAMES)}".strip()
            )
        share = name in ("takes-both", "mated")
        if (share and not 0 < value < 1) or (not share and value <= 0 and name != "frailty"):
            raise StudyError(
                f"--effect: {name} is {EFFECT_NAMES[name]}; {value:g} cannot be right."
            )
    if wish.contrast not in contrasts():
        raise StudyError(
            f"--contrast: '{wish.contrast}' is none of {', '.join(contrasts())}. "
            f"{did_you_mean(wish.contrast, contrasts())}".strip()
        )


def read_effect(text: str) -> dict[str, float]:
    """``together=2,rivalry=4`` as a mapping; a number alone stands for ``together``.

    Raises
    ------
    StudyError
        A part that is not a name with a number.
    """
    out: dict[str, float] = {}
    for part in (p.strip() for p in text.split(",") if p.strip()):
        name, _, value = part.rpartition("=")
        try:
            out[name.strip() or "together"] = float(value)
        except ValueError:
            raise StudyError(
                f"--effect: '{part}' is not a name with a number. Write such as "
                "together=2,rivalry=4."
            ) from None
    return out


def _base(effect: dict[str, float]) -> dict[str, float]:
    """Means over genera, by name of the genus effect."""
    plain = GenusTruth()
    theta = effect.get("takes-both", plain.last_fight)
    return {
        "founding_hazard": math.log(effect.get("deaths", math.exp(plain.log_hazard))),
        "together": math.log(effect.get("together", 1.0)),
        "worker_hazard": plain.log_hazard_workers,
        "rivalry": math.log(effect.get("rivalry", math.exp(plain.rivalry))),
        "last_fight": math.log(theta / (1 - theta)),
        "first_worker": plain.log_median_day,
    }


def truth_of(wish: Wish, seed: int) -> Truth:
    """The truth of one simulated season: the wish, and genera that differ by the seed."""
    rng = np.random.default_rng([seed, 3])
    scale = wish.spread * Priors().column("between")
    base, plain = _base(wish.effect), GenusTruth()
    genera: dict[str, GenusTruth] = {}
    deviations = rng.normal(size=(wish.genera, len(EFFECTS))) * scale
    for name, off in zip(WORDS, deviations, strict=False):
        own = {e: base[e] + float(d) for e, d in zip(EFFECTS, off, strict=True)}
        genera[name] = GenusTruth(
            log_hazard=own["founding_hazard"],
            together=own["together"],
            log_hazard_workers=own["worker_hazard"],
            rivalry=own["rivalry"],
            last_fight=1 / (1 + math.exp(-own["last_fight"])),
            log_median_day=own["first_worker"],
            multi_days=math.log(wish.effect.get("time", math.exp(plain.multi_days))),
            mated=wish.effect.get("mated", plain.mated),
            frailty=wish.effect.get("frailty", plain.frailty),
        )
    return Truth(genera)


def design_of(wish: Wish, foundings: int) -> Design:
    """Layout of one simulated season."""
    return Design(
        foundings=foundings,
        sizes=wish.sizes,
        look_every=wish.look_every,
        horizon=wish.horizon,
        title="A season simulated for its power",
    )
