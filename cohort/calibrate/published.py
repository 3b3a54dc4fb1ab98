"""What comparisons conclude of published experiments, simulated: as their papers did or not.

Comes in: an experiment of `cohort.simulate.published` and seeds. Goes out: a file per study, and a
table with one row for each conclusion and each effect that was true. Never: a judgement of the
papers; whether an answer is right is known here because the effect was put in.
"""

from __future__ import annotations

import json
import math
import tempfile
import time
from collections.abc import Iterable, Mapping
from functools import partial
from pathlib import Path
from typing import Any, Final

import numpy as np
import pandas as pd

from cohort.base import making
from cohort.calibrate.fingerprint import fingerprint
from cohort.calibrate.ranks import Task
from cohort.calibrate.report import today
from cohort.calibrate.run import every, spread
from cohort.comparison import Comparison, compare
from cohort.results import versions
from cohort.sheets import written
from cohort.simulate.known import NAMES
from cohort.simulate.published import EFFECTS, Claim, Experiment
from cohort.simulate.scenario import broken_study
from cohort.study import read_study

__all__ = ["SURE", "conclusions", "published_trial", "published_trials", "write_conclusions"]

SURE: Final = 0.95
"""Chance from which a conclusion counts as drawn, as a paper's p below .05."""
WORDS: Final = ("clearly", "expected", "leans", "same", "open", "none")
NONE: Final = -1


def _numbers(made: Comparison, claim: Claim) -> dict[str, Any]:
    """What a comparison says of one conclusion: a contrast by its verdict, others by range."""
    rows = made.results.comparisons
    of = (rows["genus"] == claim.genus) & (rows["queens"] == claim.queens)
    mine = rows[of & (rows["quantity"] == claim.quantity)]
    if claim.found in ("above", "below"):
        days = mine["day"].fillna(NONE).astype(int)
        row = mine[mine["arm"].isin(("multi", "ratio")) & (days == claim.day)].iloc[0]
        return {key: float(row[key]) for key in ("mean", "low", "high")}
    said = made.results.verdicts
    found = said[
        (said["genus"] == claim.genus)
        & (said["queens"] == claim.queens)
        & (said["contrast"] == claim.quantity)
    ].iloc[0]
    contrast = mine[mine["arm"].isin(("difference", "ratio"))]
    if not pd.isna(found["day"]):
        contrast = contrast[contrast["day"] == found["day"]]
    row = contrast.iloc[0]
    return {
        **{key: float(row[key]) for key in ("mean", "low", "high")},
        **{key: str(found[key]) for key in ("word", "side", "why")},
        "chance": float(found["chance"]),
    }


def published_trial(seed: int, experiment: Experiment, effect: str) -> dict[str, Any]:
    """What a comparison says of one simulated study of an experiment.

    Parameters
    ----------
    seed : int
        Of the study and of the comparison.
    experiment : Experiment
    effect : str
        One of `cohort.simulate.published.EFFECTS`.

    Returns
    -------
    dict
        ``seed``, ``settled``, ``claims`` (one dict each, in order; empty where not settled),
        ``seconds`` (processor time).
    """
    begun = time.process_time()
    with tempfile.TemporaryDirectory() as folder:
        sheets = broken_study(experiment.worlds[effect], seed)
        study = read_study(sheets.write(Path(folder) / "study"))
    made = compare(study, seed=seed)
    settled = bool(made.results.settled)
    return {
        "seed": seed,
        "settled": settled,
        "claims": [_numbers(made, one) for one in experiment.claims] if settled else [],
        "seconds": round(time.process_time() - begun, 2),
    }


def published_trials(
    folder: Path,
    experiments: Iterable[Experiment],
    seeds: Mapping[str, Iterable[int]],
    *,
    jobs: int = 1,
    scheduler: str = "",
) -> None:
    """Compare the studies of every experiment, effect and seed that have no file yet.

    Parameters
    ----------
    folder : Path
        Gets a folder for each experiment and effect. Files made by other code must not lie there.
    experiments : iterable of Experiment
    seeds : mapping of str to iterable of int
        By effect.
    jobs, scheduler
        See `cohort.calibrate.run.spread`.
    """
    for experiment in experiments:
        for effect, wanted in seeds.items():
            work = partial(published_trial, experiment=experiment, effect=effect)
            spread(folder / experiment.name / effect, wanted, work, jobs=jobs, scheduler=scheduler)


def toward(claim: Claim, said: Mapping[str, Any]) -> bool:
    """Whether the middle of a study points the way of the paper."""
    if claim.found in ("above", "below"):
        return bool((said["mean"] > claim.line) == (claim.found == "above"))
    if claim.found == "same":
        return not drawn_apart(said)
    return bool((said["chance"] > 0.5) == (claim.found == "multi"))


def drawn(claim: Claim, said: Mapping[str, Any]) -> bool:
    """Whether a study concludes what the paper did: a chance of `SURE`, or the likely range.

    That both ways are the same is concluded where neither is surely better, as papers do from a
    test that finds nothing.
    """
    if claim.found == "above":
        return bool(said["low"] > claim.line)
    if claim.found == "below":
        return bool(said["high"] < claim.line)
    if claim.found == "same":
        return not drawn_apart(said)
    sure = said["chance"] if claim.found == "multi" else 1 - said["chance"]
    return bool(sure >= SURE)


def drawn_apart(said: Mapping[str, Any]) -> bool:
    """Whether a study is sure that one way does better."""
    return bool(max(said["chance"], 1 - said["chance"]) >= SURE)


def conclusions(folder: Path, experiments: Iterable[Experiment]) -> pd.DataFrame:
    """One row for each conclusion and effect, counted over studies.

    Parameters
    ----------
    folder : Path
        That `published_trials` filled.
    experiments : iterable of Experiment

    Returns
    -------
    DataFrame
        Columns of the table ``conclusions`` (`cohort.terms.written`).
    """
    rows = []
    for experiment in experiments:
        for effect in EFFECTS:
            studies = every(folder / experiment.name / effect)
            settled = [one for one in studies if one["settled"]]
            for number, claim in enumerate(experiment.claims):
                said = [one["claims"][number] for one in settled]
                rows.append(_row(experiment, effect, claim, len(studies), said))
    return pd.DataFrame(rows)


def _row(
    experiment: Experiment,
    effect: str,
    claim: Claim,
    studies: int,
    said: list[dict[str, Any]],
) -> dict[str, Any]:
    counted = pd.Series([one.get("word", "") for one in said], dtype=object).value_counts()
    middle = {
        key: float(np.median([one[key] for one in said])) if said else math.nan
        for key in ("mean", "low", "high")
    }
    return {
        "experiment": experiment.name,
        "finding": claim.row,
        "effect": effect,
        "quantity": claim.quantity,
        "genus": claim.genus,
        "queens": claim.queens,
        "concluded": claim.found,
        "holds": effect not in claim.wrong,
        "studies": studies,
        "settled": len(said),
        "toward": sum(toward(claim, one) for one in said),
        "drawn": sum(drawn(claim, one) for one in said),
        **{word: int(counted.get(word, 0)) for word in WORDS if word != "none"},
        "unit": NAMES[claim.quantity].unit,
        **middle,
    }


def write_conclusions(studies: Path, out: Path, experiments: Iterable[Experiment]) -> pd.DataFrame:
    """Write table and record of the studies of a folder; gives the table.

    The record, ``conclusions.json``, holds papers, what was read of each, studies by effect,
    versions, date, and what the model says at fixed points, by which a test sees whether the table
    is of the model as it is.

    Parameters
    ----------
    studies : Path
        Folder that `published_trials` filled.
    out : Path
    experiments : iterable of Experiment
    """
    these = list(experiments)
    table = conclusions(studies, these)
    seconds = [
        one["seconds"] for e in these for f in EFFECTS for one in every(studies / e.name / f)
    ]
    record = {
        "experiments": {
            one.name: {
                "paper": one.paper,
                "read": one.read,
                "ours": one.ours,
                "concluded": [f"row {c.row}: {c.says}" for c in one.claims],
            }
            for one in these
        },
        "sure": SURE,
        "model": fingerprint(Task()),
        "versions": versions(),
        "date": today().isoformat(),
        "seconds": round(sum(seconds)),
    }
    with making.added(out) as new:
        written.write(table.round(4), "conclusions", new.place / "conclusions.csv")
        making.write(new.place / "conclusions.json", json.dumps(record, indent=1) + "\n")
    return table
