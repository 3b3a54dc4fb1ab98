"""What comparisons said of studies whose truth is known, counted.

Comes in: a folder of `cohort.calibrate.worlds`. Goes out: tables: how many studies were flagged,
which words were used, how often they named the wrong way, how often likely ranges held the truth.
Never: a fit.
"""

from __future__ import annotations

import json
import math
from collections.abc import Iterable
from pathlib import Path
from typing import Any, Final

import pandas as pd

from cohort.calibrate.run import every
from cohort.calibrate.worlds import CONTRASTS, KEY, NO_DAY, place
from cohort.simulate.known import NAMES
from cohort.simulate.scenario import Scenario
from cohort.terms.questions import AVERAGE, READINGS, SEEN

__all__ = ["covered", "said", "told", "word_shares"]

NOUGHT: Final = 0.01
"""How much better one way must truly be for the word "clearly" to be right (of logs for ratios)."""
VERDICT: Final = ("genus", "queens", "day", "contrast", "word", "side", "why")


def _truth(folder: Path, scenario: Scenario) -> pd.DataFrame:
    return pd.DataFrame(json.loads((place(folder, scenario) / "truth.json").read_text("utf-8")))


def said(folder: Path, scenario: Scenario) -> pd.DataFrame:
    """Every verdict on every study of a world.

    Returns
    -------
    DataFrame
        Columns seed, `VERDICT`, better (truly, see `cohort.calibrate.worlds.truths`; nan where it
        is not known), and wrong: the word is "clearly" and the way it names is not better.
    """
    rows = [
        {"seed": one["seed"], **{name: row.get(name) for name in VERDICT}}
        for one in every(place(folder, scenario))
        for row in one["verdicts"]
    ]
    table = pd.DataFrame(rows, columns=["seed", *VERDICT])
    table["day"] = table["day"].fillna(NO_DAY).astype(int)
    table["queens"] = table["queens"].fillna(0).astype(int)
    known = _truth(folder, scenario).rename(columns={"quantity": "contrast"})
    spoken = known["contrast"].map(lambda name: NAMES[name].headline)
    known = known[known["reading"] == spoken]
    both = table.merge(
        known[["contrast", "genus", "queens", "day", "better"]],
        how="left",
        on=["contrast", "genus", "queens", "day"],
    )
    toward = both["better"] * both["side"].map({"multi": 1.0, "single": -1.0})
    return both.assign(wrong=(both["word"] == "clearly") & (toward <= NOUGHT))


def covered(folder: Path, scenario: Scenario) -> pd.DataFrame:
    """Likely ranges of the same-queens contrasts of every settled study, beside the truth.

    Returns
    -------
    DataFrame
        Columns seed, `KEY`, mean, low, high, truth, inside.
    """
    rows = [
        {"seed": one["seed"], **row}
        for one in every(place(folder, scenario))
        for row in one["contrasts"]
    ]
    table = pd.DataFrame(rows, columns=["seed", *KEY, "mean", "low", "high"])
    table = table.astype({"day": "int64", "queens": "int64"})
    both = table.merge(_truth(folder, scenario).drop(columns="better"), on=list(KEY))
    return both.assign(inside=both["truth"].between(both["low"], both["high"]))


def told(folder: Path, scenarios: Iterable[Scenario]) -> pd.DataFrame:
    """What was said of the studies of each world.

    Returns
    -------
    DataFrame
        One row per world: world, foundings, gain (true, of any colony as seen, average, largest
        group), studies, settled, reruns, diverged (studies with a divergence in the run kept),
        flagged, clearly (studies with that word for any contrast), clearly_same (for one of the
        same-queens contrasts), wrong and wrong_same (with it for the wrong way); per contrast and
        reading, as ``any_seen``, the studies whose likely range of the average holds the truth;
        seconds (processor time, middle).
    """
    return pd.DataFrame([_row(folder, scenario) for scenario in scenarios])


def _row(folder: Path, scenario: Scenario) -> dict[str, Any]:
    studies, words = every(place(folder, scenario)), said(folder, scenario)
    ranges = covered(folder, scenario)
    size = max(scenario.design.sizes)
    ranges = ranges[(ranges["genus"] == AVERAGE) & (ranges["queens"] == size)]
    clearly = words[words["word"] == "clearly"]
    row: dict[str, Any] = {
        "world": scenario.name,
        "foundings": scenario.design.foundings,
        "gain": _gain(folder, scenario),
        "studies": len(studies),
        "settled": sum(one["settled"] for one in studies),
        "reruns": sum(one["runs"] > 1 for one in studies),
        "diverged": sum(one["divergences"] > 0 for one in studies),
        "flagged": sum(bool(one["flags"]) for one in studies),
        "clearly": clearly["seed"].nunique(),
        "clearly_same": clearly.loc[clearly["contrast"].isin(CONTRASTS), "seed"].nunique(),
        "wrong": words.loc[words["wrong"], "seed"].nunique(),
        "wrong_same": words.loc[
            words["wrong"] & words["contrast"].isin(CONTRASTS), "seed"
        ].nunique(),
    }
    for contrast in CONTRASTS:
        for reading in READINGS:
            mine = (ranges["quantity"] == contrast) & (ranges["reading"] == reading)
            name = f"{contrast.removeprefix('same_queens_')}_{reading}".replace("-", "_")
            row[name] = int(ranges.loc[mine, "inside"].sum())
    return row | {"seconds": float(pd.Series([one["seconds"] for one in studies]).median())}


def _gain(folder: Path, scenario: Scenario) -> float:
    truth = _truth(folder, scenario)
    mine = (
        (truth["quantity"] == CONTRASTS[0])
        & (truth["reading"] == SEEN)
        & (truth["genus"] == AVERAGE)
        & (truth["queens"] == max(scenario.design.sizes))
        & (truth["day"] == scenario.design.horizon)
    )
    return float(truth.loc[mine, "truth"].iloc[0])


def word_shares(
    folder: Path, scenarios: Iterable[Scenario], contrast: str = CONTRASTS[0]
) -> pd.DataFrame:
    """How often each word is said of the average of all kinds.

    Parameters
    ----------
    folder : Path
    scenarios : iterable of Scenario
    contrast : str

    Returns
    -------
    DataFrame
        One row per world, word and side: world, foundings, gain, word, side, studies, share, se
        (Monte Carlo). A study without a verdict, as one that did not settle, has the word "none".
    """
    rows = []
    for scenario in scenarios:
        seeds = [one["seed"] for one in every(place(folder, scenario))]
        words = said(folder, scenario)
        size = max(scenario.design.sizes)
        mine = (words["contrast"] == contrast) & (words["genus"] == AVERAGE)
        spoken = words[mine & (words["queens"] == size)].set_index("seed")[["word", "side"]]
        spoken = spoken.reindex(seeds).fillna({"word": "none", "side": ""})
        counts = spoken.value_counts().reset_index(name="count")
        for word, side, count in counts.itertuples(index=False):
            near = (count + 1) / (len(seeds) + 2)  # a share of 0 or 1 of a few is not certain
            rows.append(
                {
                    "world": scenario.name,
                    "foundings": scenario.design.foundings,
                    "gain": _gain(folder, scenario),
                    "word": word,
                    "side": side,
                    "studies": len(seeds),
                    "share": count / len(seeds),
                    "se": math.sqrt(near * (1 - near) / len(seeds)),
                }
            )
    return pd.DataFrame(rows)
