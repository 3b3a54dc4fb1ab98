"""What a comparison says of studies whose truth is known: broken worlds, and wished gains.

Comes in: worlds and seeds. Goes out: one file per study, and a table: how many were flagged, what
was said of them, how often likely ranges hold the truth. Never: a verdict of its own.
"""

from __future__ import annotations

import json
import math
import tempfile
import time
from collections.abc import Iterable
from functools import partial
from pathlib import Path
from typing import Any, Final

import pandas as pd

from cohort import disk
from cohort.calibrate.run import every, spread
from cohort.comparison import Comparison, compare
from cohort.simulate.broken import Scenario, broken_study, true_gains
from cohort.study import read_study
from cohort.terms.questions import AVERAGE, READINGS, SEEN

__all__ = ["CONTRASTS", "told", "trial", "trials", "word_shares"]

CONTRASTS: Final = ("same_queens_any", "same_queens_count")
_KEPT: Final = ("genus", "queens", "reading", "quantity", "mean", "low", "high")


def _contrasts(made: Comparison) -> list[dict[str, Any]]:
    """The same-queens contrasts on the last day that is printed, as plain rows."""
    rows = made.results.comparisons
    rows = rows[rows["quantity"].isin(CONTRASTS) & (rows["day"] == made.history.horizon)]
    return [dict(row) for row in rows[list(_KEPT)].to_dict("records")]


def trial(seed: int, scenario: Scenario) -> dict[str, Any]:
    """What a comparison says of one study of a world.

    Returns
    -------
    dict
        ``seed``, ``settled``, ``runs``, ``divergences``, ``flags`` (one text each), ``verdicts``
        (rows of ``verdicts.csv``), ``contrasts`` (rows of ``comparisons.csv``), ``seconds`` (of
        this process; where several share the machine that is all it takes).
    """
    begun = time.process_time()
    with tempfile.TemporaryDirectory() as folder:
        study = read_study(broken_study(scenario, seed).write(Path(folder) / "study"))
    made = compare(study, seed=seed)
    told = made.results.diagnosis
    return {
        "seed": seed,
        "settled": bool(told["settled"]),
        "runs": int(told.get("runs", 0)),
        "divergences": int(told.get("divergences", 0)),
        "flags": [_flag(flag) for flag in told.get("flags", ())],
        "verdicts": json.loads(made.results.verdicts.to_json(orient="records")),
        "contrasts": _contrasts(made),
        "seconds": round(time.process_time() - begun, 2),
    }


def _flag(flag: Any) -> str:
    return flag if isinstance(flag, str) else str(flag.get("flag", flag))


def _place(folder: Path, scenario: Scenario) -> Path:
    return folder / f"{scenario.name}-{scenario.design.foundings}"


def trials(
    folder: Path, scenarios: Iterable[Scenario], seeds: Iterable[int], *, jobs: int = 1
) -> None:
    """Try every world with every seed that has no file yet, and write down what is true there.

    Parameters
    ----------
    folder : Path
        Gets a folder for each world and number of foundings.
    scenarios : iterable of Scenario
    seeds : iterable of int
    jobs : int
        See `cohort.calibrate.run.spread`.
    """
    wanted = list(seeds)
    for scenario in scenarios:
        place = _place(folder, scenario)
        spread(place, wanted, partial(trial, scenario=scenario), jobs=jobs)
        truth = place / "truth.json"
        if not truth.exists():
            sizes = [size for size in scenario.design.sizes if size > 1]
            tables = [true_gains(scenario, size).assign(queens=size) for size in sizes]
            disk.put(truth, pd.concat(tables).to_json(orient="records"))


def _studies(folder: Path, scenario: Scenario) -> tuple[list[dict[str, Any]], pd.DataFrame]:
    place = _place(folder, scenario)
    truth = pd.DataFrame(json.loads((place / "truth.json").read_text("utf-8")))
    return every(place), truth


def _covered(studies: list[dict[str, Any]], truth: pd.DataFrame) -> pd.DataFrame:
    """Rows of the average of all settled studies with the truth beside them."""
    rows = [{"seed": one["seed"], **row} for one in studies for row in one["contrasts"]]
    if not rows:
        return pd.DataFrame()
    known = truth.rename(columns={"contrast": "quantity"})
    both = pd.DataFrame(rows).merge(known, on=["quantity", "reading", "genus", "queens"])
    both = both[both["genus"] == AVERAGE]
    return both.assign(inside=both["truth"].between(both["low"], both["high"]))


def _sided(studies: list[dict[str, Any]], truth: pd.DataFrame) -> pd.DataFrame:
    """Every verdict with the true gain as seen, and whether it names the wrong side."""
    rows = [{"seed": one["seed"], **row} for one in studies for row in one["verdicts"]]
    if not rows:
        return pd.DataFrame(columns=["seed", "word", "contrast", "genus", "wrong"])
    seen = truth[truth["reading"] == SEEN].drop(columns=["reading", "se"])
    both = pd.DataFrame(rows).merge(seen, on=["contrast", "genus", "queens"])
    wrong = ((both["side"] == "multi") & (both["truth"] <= 0)) | (
        (both["side"] == "single") & (both["truth"] >= 0)
    )
    return both.assign(wrong=wrong)


def told(folder: Path, scenarios: Iterable[Scenario]) -> pd.DataFrame:
    """What was said of the studies of each world, from the files of `trials`.

    Returns
    -------
    DataFrame
        One row per world: world, foundings, studies, settled, diverged (studies with a divergence
        in the run that was kept), flagged, clearly (studies in which any contrast of any genus is
        "clearly" one way), wrong (those in which it is the wrong way), and per contrast and
        reading, as ``any seen``, in how many studies the likely range of the average holds the
        truth; gain (true, of any colony, as seen), seconds (median).
    """
    rows = []
    for scenario in scenarios:
        studies, truth = _studies(folder, scenario)
        sided, covered = _sided(studies, truth), _covered(studies, truth)
        clearly = sided[sided["word"] == "clearly"]
        size = max(scenario.design.sizes)
        gain = truth.set_index(["reading", "contrast", "genus", "queens"])["truth"]
        row: dict[str, Any] = {
            "world": scenario.name,
            "foundings": scenario.design.foundings,
            "gain": float(gain[SEEN, "same_queens_any", AVERAGE, size]),
            "studies": len(studies),
            "settled": sum(one["settled"] for one in studies),
            "diverged": sum(one["divergences"] > 0 for one in studies),
            "flagged": sum(bool(one["flags"]) for one in studies),
            "clearly": clearly["seed"].nunique(),
            "wrong": clearly.loc[clearly["wrong"].astype(bool), "seed"].nunique(),
        }
        for contrast in CONTRASTS:
            for reading in READINGS:
                row[f"{contrast.removeprefix('same_queens_')} {reading}"] = (
                    _times(covered, contrast, reading, size) if len(covered) else 0
                )
        row["seconds"] = float(pd.Series([one["seconds"] for one in studies]).median())
        rows.append(row)
    return pd.DataFrame(rows)


def _times(covered: pd.DataFrame, contrast: str, reading: str, size: int) -> int:
    mine = (covered["quantity"] == contrast) & (covered["reading"] == reading)
    return int(covered.loc[mine & (covered["queens"] == size), "inside"].sum())


def word_shares(
    folder: Path, scenarios: Iterable[Scenario], contrast: str = "same_queens_any"
) -> pd.DataFrame:
    """How often each word is said of the average of all kinds, by world.

    Returns
    -------
    DataFrame
        One row per world, word and side: world, foundings, gain, word, side, studies, share, se
        (Monte Carlo, of (x + 1) / (n + 2)). A study that did not settle has the word "none".
    """
    rows = []
    for scenario in scenarios:
        studies, truth = _studies(folder, scenario)
        n, size = len(studies), max(scenario.design.sizes)
        seen = truth.set_index(["reading", "contrast", "genus", "queens"])["truth"]
        gain = float(seen[SEEN, contrast, AVERAGE, size])
        words = [_word(one, contrast, size) for one in studies]
        for word, side in sorted(set(words)):
            count = words.count((word, side))
            near = (count + 1) / (n + 2)
            rows.append(
                {
                    "world": scenario.name,
                    "foundings": scenario.design.foundings,
                    "gain": gain,
                    "word": word,
                    "side": side,
                    "studies": n,
                    "share": count / n,
                    "se": math.sqrt(near * (1 - near) / n),
                }
            )
    return pd.DataFrame(rows)


def _word(study: dict[str, Any], contrast: str, size: int) -> tuple[str, str]:
    for row in study["verdicts"]:
        if (row["contrast"], row["genus"], row["queens"]) == (contrast, AVERAGE, size):
            return str(row["word"]), str(row["side"] or "")
    return "none", ""
