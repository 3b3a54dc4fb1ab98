"""A club whose truth is known, compared; and what textbook methods say of the same club.

Comes in: a seed. Goes out: a `Club` and, of that, lines. The simulator that makes the club and
counts what is true shares no code with the model. Never: a judgement of its own; the numbers held
are those that a comparison writes.
"""

from __future__ import annotations

import math
import tempfile
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

import pandas as pd

from cohort.comparison import compare
from cohort.model.sample import Said
from cohort.prove.lines import Line, near
from cohort.results import Results
from cohort.simulate.design import Design
from cohort.simulate.known import beside, known_outcomes
from cohort.simulate.season import simulate_study
from cohort.simulate.truth import GenusTruth, Truth
from cohort.study import read_study
from cohort.terms.questions import AVERAGE, SEEN
from cohort.terms.voice import told

SEED: Final = 20260704
_OWN: Final[dict[str, Any]] = {
    "multi_days": -0.08, "last_fight": 0.15, "mated": 0.9, "frailty": 0.4,
}  # fmt: skip
TRUTH: Final = Truth(
    {
        "Lasius": GenusTruth(
            log_hazard=math.log(0.006), together=0.3, rivalry=1.2, log_median_day=math.log(45.0),
            **_OWN,
        ),
        "Messor": GenusTruth(
            log_hazard=math.log(0.004), together=-0.3, rivalry=0.6, log_median_day=math.log(55.0),
            **_OWN,
        ),
    }
)  # fmt: skip
"""Two genera: in one company harms before workers, in the other it helps."""
DESIGN: Final = Design(foundings=96, sizes=(1, 3), look_every=7, horizon=160)
HEADLINES: Final = ("same_queens_any", "same_queens_count", "hazard_ratio", "time_ratio")
LIVES: Final = 40_000
SIGMA: Final = 3.29
"""Width of a 90 % range in standard deviations."""
FAR: Final = 3.0
"""Standard deviations by which a number may miss, and by which two methods may differ."""
LEAST_INSIDE: Final = 0.75
"""Of ranges that hold the truth nine times in ten, in one study, where they miss together."""
METHODS: Final = ("aft", "incidence", "exact", "counted")
"""Of `cohort.terms.opinions`; the others are tests, or said once more as a check of lifelines."""
LEAST_METHODS: Final = 5


@dataclass(frozen=True)
class Club:
    """A simulated club, compared.

    Attributes
    ----------
    results : Results
    known : DataFrame
        The comparison's rows beside the truth, see `cohort.simulate.known.beside`.
    """

    results: Results
    known: pd.DataFrame


def club(seed: int, say: Said) -> Club:
    """Simulate the season, write and read its sheets, compare, and count what is true."""
    with tempfile.TemporaryDirectory() as folder:
        study = read_study(simulate_study(DESIGN, TRUTH, seed).write(Path(folder) / "study"))
    made = compare(study, seed=seed, say=say).results
    truth = known_outcomes(TRUTH, DESIGN.sizes, DESIGN.horizon, foundings=LIVES, seed=seed)
    return Club(made, beside(made.comparisons, truth))


def recovered(of: Club) -> tuple[Line, ...]:
    """Whether the comparison settled, and its ranges hold what is true."""
    settled = near(told("line_settled"), float(of.results.settled), 1.0, 0.0, 0)
    if not of.results.settled:
        return (settled,)
    rows = of.known[of.known["truth"].notna()]
    share = float(rows["inside"].mean())
    lines = [settled, Line(told("line_inside", n=len(rows)), share, LEAST_INSIDE, 1.0, 2)]
    last = rows[
        (rows["genus"] == AVERAGE)
        & rows["arm"].isin(("difference", "ratio"))
        & rows["reading"].isin(("", SEEN))
        & (rows["day"].isna() | (rows["day"] == DESIGN.horizon))
    ].set_index("quantity")
    for name in HEADLINES:
        row = last.loc[name]
        ratio = row["unit"] == "ratio"
        mean, low, high, truth = (
            math.log(row[k]) if ratio else float(row[k]) for k in ("mean", "low", "high", "truth")
        )
        lines.append(
            near(told("line_headline", what=told(f"name_{name}")), (mean - truth) * SIGMA
                 / (high - low), 0.0, FAR, 1)
        )  # fmt: skip
    return tuple(lines)


def second(of: Club) -> tuple[Line, ...]:
    """How far the standard methods lie from the comparison, in errors of both."""
    table = of.results.second_opinion
    mine = (table["genus"] == "all") & table["method"].isin(METHODS)
    numbers = ["estimate", "low", "high", "model", "model_low", "model_high"]
    asked = table[mine & table[numbers].notna().all(axis=1)].to_dict("records")
    lines = [Line(told("line_methods"), float(len(asked)), LEAST_METHODS, math.inf, 0)]
    for row in asked:
        theirs, low, high, ours, our_low, our_high = (
            math.log(row[k]) if row["unit"] == "ratio" else float(row[k]) for k in numbers
        )
        error = math.hypot(high - low, our_high - our_low) / SIGMA
        way = f"_{row['arm']}" if row["arm"] in ("single", "multi") else ""
        named = told(f"name_{row['quantity']}{way}")
        what = told("line_method", what=named, method=told(f"method_{row['method']}"))
        lines.append(near(what, (ours - theirs) / error, 0.0, FAR, 1))
    return tuple(lines)
