"""Invented results that agree with one another, for `made`.

In come the rows and lives of an invented study; out come comparisons worked out per draw, curves
of plain counts, model bands, a raw table and a diagnosis.
"""

from __future__ import annotations

import dataclasses
from typing import Any

import numpy as np
import pandas as pd
from made_curves import bands_of, curves_of

from cohort.results.headline_draws import as_dataset, empty, frame_of
from cohort.terms.questions import headline_reading

HORIZON = 180


@dataclasses.dataclass(frozen=True)
class Results:
    """Same fields as `cohort.results.Results`."""

    comparisons: pd.DataFrame
    curves: pd.DataFrame
    foundings: pd.DataFrame
    raw: pd.DataFrame
    diagnosis: dict[str, Any]
    run: dict[str, Any]
    second_opinion: pd.DataFrame
    verdicts: pd.DataFrame = dataclasses.field(default_factory=pd.DataFrame)
    sensitivity: pd.DataFrame = dataclasses.field(default_factory=pd.DataFrame)
    contrasts: pd.DataFrame = dataclasses.field(default_factory=empty)
    folder: None = None


def second_opinion_of(comparisons):
    """A few numbers by other methods beside the invented ones of the model."""
    from cohort.second_opinion import Row, beside_model

    sizes = comparisons.loc[comparisons["arm"] == "multi", "queens"]
    size = int(sizes.mode().iloc[0]) if len(sizes) else 2
    ratio = ("first_worker", "time_ratio", "ratio", "ratio", "all", size, None)
    shares = ("first_worker", "chance_by_day", "chance", "single", "all", 1, HORIZON)
    fair = ("colony", "same_queens_any", "chance", "difference")
    kind = sorted(set(comparisons["genus"]) - {"average", "new"})[:1]
    rows = [
        Row("aft", *ratio, 0.7, 0.6, 0.8, 0.02, 60, {"barren": 0.9, "prior": 0.71}),
        Row("incidence", *shares, 0.7, 0.55, 0.82, foundings=30),
        Row("cox", "queen_survival", "loss_ratio", "ratio", "ratio", why="no_fit"),
        Row("counted", *fair, "all", size, HORIZON, -0.07, -0.3, 0.12, foundings=23),
        *(Row("counted", *fair, g, size, HORIZON, -0.9, -0.95, -0.85, foundings=9) for g in kind),
        Row("lots", *fair, "all", size, HORIZON, -0.07, p=0.82, foundings=23),
    ]
    return beside_model(rows, comparisons, 0.9)


def _row(question, quantity, unit, genus, arm, queens, day, draws, foundings, **extra):
    low, high = np.quantile(draws, [0.05, 0.95])
    mean = float(np.exp(np.mean(np.log(draws)))) if arm == "ratio" else float(np.mean(draws))
    base = dict(
        question=question,
        quantity=quantity,
        unit=unit,
        reading="",
        genus=genus,
        arm=arm,
        queens=queens,
        day=day,
        mean=mean,
        low=float(low),
        high=float(high),
        level=0.9,
        foundings=foundings,
        carried_over=foundings == 0,
        own_share=np.nan if genus in ("average", "new") else 0.7,
        chance_multi_better=np.nan,
        prior_chance_multi_better=np.nan,
        chance_practically_equal=np.nan,
        prior_rules=False,
    )
    return {**base, **extra}


def _against(draws, prior, equal, low_is_better=False, ratio=False):
    zero = 1.0 if ratio else 0.0
    better = float(np.mean(draws < zero if low_is_better else draws > zero))
    if ratio:
        same = float(np.mean((draws > 0.9) & (draws < 1 / 0.9)))
    else:
        same = float(np.mean(np.abs(draws) < equal))
    return dict(
        chance_multi_better=better,
        prior_chance_multi_better=prior,
        chance_practically_equal=same,
    )


def _draws_of_genus(rng, chance, sizes):
    m = 400
    if chance is None:
        p1 = rng.beta(40 * (c := rng.uniform(0.45, 0.75)), 40 * (1 - c), m)
        lift = rng.normal(rng.uniform(-0.3, 0.8), 0.3, m)
        many = {k: 1 / (1 + np.exp(-(np.log(p1 / (1 - p1)) + lift))) for k in sizes}
    else:
        p1 = rng.beta(400 * chance[0], 400 * (1 - chance[0]), m)
        many = {k: rng.beta(400 * chance[1], 400 * (1 - chance[1]), m) for k in sizes}
    return {1: p1, **many}


def spoken(table):
    """Rows in the reading in which each number is spoken of."""
    return table[table["reading"] == table["quantity"].map(headline_reading)]


def results_of(rng, rows, lives, genera, chance, prior_rules, unpooled, checks_table):
    sizes = sorted({r["queens"] for r in rows} - {1})
    per = {g: _draws_of_genus(rng, chance, sizes) for g in genera}
    sets = dict(per)
    sets["average"] = {k: np.mean([per[g][k] for g in genera], axis=0) for k in (1, *sizes)}
    sets["new"] = {
        k: np.clip(sets["average"][k] + rng.normal(0, 0.12, 400), 0.01, 0.99) for k in (1, *sizes)
    }
    out = []
    for genus, draws in sets.items():
        count = {
            k: sum(
                r["queens"] == k
                and (genus in ("average", "new") or r["genus"] == genus)
                and not r["left_out"]
                for r in rows
            )
            for k in (1, *sizes)
        }
        out += _genus_rows(rng, genus, draws, count, prior_rules)
    comparisons = pd.DataFrame(out)
    comparisons["day"] = comparisons["day"].astype("Int64")
    curves = pd.concat([curves_of(rows, lives, genera), bands_of(sets)], ignore_index=True)
    raw = _raw(rows, lives, genera, unpooled)
    diagnosis = dict(
        settled=True,
        why="",
        rhat_max=1.004,
        ess_min=812.0,
        divergences=0,
        last_day=HORIZON,
    )
    if checks_table:
        diagnosis["checks"] = [
            dict(
                check=c,
                by="way",
                group=g,
                genus="",
                observed=float(o),
                low=float(o) - 4,
                high=float(o) + 5,
                expected=float(o) + 0.4,
                tail_area=0.4,
                flagged=False,
                touches="colony",
            )
            for c, o in (
                ("losses_before_workers", 18),
                ("losses_after_workers", 22),
                ("all_lost", 12),
                ("with_workers", 9),
                ("largest_loss", 3),
            )
            for g in ("single", "multi")
        ]
    return Results(
        comparisons,
        curves,
        pd.DataFrame(rows),
        raw,
        diagnosis,
        dict(seed=1, versions={"cohort": "0.1.0"}, made="2026-02-01"),
        second_opinion_of(comparisons),
        contrasts=_contrasts(sets, rows),
    )


def _contrasts(sets, rows):
    """Draws of the headline contrast that agree with the comparisons, and invented prior ones."""
    groups = [r["queens"] for r in rows if r["queens"] > 1 and not r["left_out"]]
    if not groups:
        return empty()
    k = max(sorted(set(groups)), key=groups.count)
    post = np.column_stack([s[k] - (1 - (1 - s[1]) ** k) for s in sets.values()])
    prior = np.random.default_rng(99).normal(-0.35, 0.3, (300, len(sets))).clip(-1, 1)
    data = as_dataset({"posterior": post, "prior": prior}, list(sets), k, [HORIZON] * len(sets))
    return frame_of(data)


def _genus_rows(rng, genus, draws, count, prior_rules):
    out = []

    def add(question, quantity, unit, arm, k, day, values, n, **more):
        more = {"prior_rules": prior_rules, **more}
        out.append(_row(question, quantity, unit, genus, arm, k, day, values, n, **more))

    sizes = [k for k in draws if k > 1]
    _survival_rows(add, draws, sizes, count)
    _worker_rows(rng, add, draws, sizes, count)
    for arm, k in (("single", 1), *(("multi", k) for k in sizes)):
        for day, f in ((60, 1.1), (90, 1.05), (HORIZON, 1.0)):
            _colony_rows(add, draws, count, arm, k, day, f)
    for k in sizes:
        _left_after_rows(rng, add, count, k)
    return out


def _survival_rows(add, draws, sizes, count):
    p1, n1 = draws[1], count[1]
    question = "queen_survival"
    for day, up in ((30, 1.3), (60, 1.2), (90, 1.12), (HORIZON, 1.0)):
        for quantity in ("share_alive_before_workers", "share_alive"):
            s1 = np.clip(p1 * up * 1.02, 0, 0.999)
            add(question, quantity, "share", "single", 1, day, s1, n1)
            for k in sizes:
                sk = np.clip(draws[k] * up * 0.8, 0, 0.999)
                add(question, quantity, "share", "multi", k, day, sk, count[k])
                add(
                    question,
                    quantity,
                    "share",
                    "difference",
                    k,
                    day,
                    sk - s1,
                    n1 + count[k],
                    **_against(sk - s1, 0.45, 0.05),
                )
    for k in sizes:
        ratio = np.exp(-(draws[k] - p1) * 3)
        add(
            question,
            "hazard_ratio",
            "ratio",
            "ratio",
            k,
            pd.NA,
            ratio,
            n1 + count[k],
            **_against(ratio, 0.5, 0, True, True),
        )


def _worker_rows(rng, add, draws, sizes, count):
    for k in sizes:
        time = np.exp(rng.normal(-0.06, 0.05, 400))
        add(
            "first_worker",
            "time_ratio",
            "ratio",
            "ratio",
            k,
            pd.NA,
            time,
            count[1] + count[k],
            **_against(time, 0.6, 0, True, True),
        )
    for k in draws:
        arm, n, base = ("single" if k == 1 else "multi"), count[k], draws[k]
        add("queen_survival", "queen_days", "days", arm, k, HORIZON, base * 170, n)
        for day, f in ((30, 0.05), (45, 0.45), (60, 0.9), (90, 1.0), (HORIZON, 1.02)):
            add(
                "first_worker",
                "chance_by_day",
                "chance",
                arm,
                k,
                day,
                np.clip(base * f * 1.08, 0, 0.999),
                n,
            )
        add(
            "first_worker",
            "median_day",
            "days",
            arm,
            k,
            pd.NA,
            (49 - 3 * (k > 1)) * np.exp(rng.normal(0, 0.04, 400)),
            n,
        )
        add("first_worker", "fertile_share", "share", arm, k, pd.NA, rng.beta(40, 4, 400), n)
        add(
            "first_brood",
            "workers_after_30_days",
            "workers",
            arm,
            k,
            pd.NA,
            np.exp(rng.normal(np.log(11 + 4 * k), 0.1, 400)),
            n,
        )


READINGS = {"seen": 1.0, "alike": 0.94, "mated-first": 0.85}
"""What is left of the chance of a group by what is called a colony; single queens keep all."""


def _colony_rows(add, draws, count, arm, k, day, f):
    for reading, left in READINGS.items():
        _rows_of_reading(add, draws, count, arm, k, day, f, reading, left if k > 1 else 1.0)


def _rows_of_reading(add, draws, count, arm, k, day, f, reading, left):
    n, n1, here = count[k], count[1], {"reading": reading}
    one, many = (np.clip(draws[j] * f, 0, 0.999) for j in (1, k))
    many = many * left
    name = "chance_per_founding" if reading == "seen" else "chance_lasting"
    add("colony", name, "chance", arm, k, day, many, n, **here)
    add("colony", "colonies_per_queen", "colonies per queen", arm, k, day, many / k, n, **here)
    if k == 1:
        return
    apart, both = 1 - (1 - one) ** k, n1 + n
    single = ("single", k, day)
    add("colony", "at_least_one_from_same_queens", "chance", *single, apart, n1, **here)
    add("colony", "colonies_from_same_queens", "colonies", *single, k * one, n1, **here)
    for quantity, unit, gap, prior in (
        ("same_queens_any", "chance", many - apart, 0.12),
        ("same_queens_count", "colonies", many - k * one, 0.04),
        (name, "chance", many - one, 0.85),
        ("colonies_per_queen", "colonies per queen", many / k - one, 0.05),
    ):
        against = _against(gap, prior, 0.05) | here
        add("colony", quantity, unit, "difference", k, day, gap, both, **against)


def _left_after_rows(rng, add, count, k):
    question, n = "queens_after_workers", count[k]
    for day, left in ((30, 0.45), (60, 0.65), (90, 0.75)):
        none = rng.beta(8, 50, 400)
        one = (1 - none) * left
        for name, share in (("one", one), ("none", none), ("several", 1 - one - none)):
            add(question, f"chance_{name}_left", "chance", "multi", k, day, share, n)
        add(question, "expected_left", "queens", "multi", k, day, one + 2 * (1 - one - none), n)
    add(question, "rivalry_ratio", "ratio", "ratio", k, pd.NA, np.exp(rng.normal(1.4, 0.3, 400)), n)
    add(question, "last_fight_takes_both", "chance", "multi", k, pd.NA, rng.beta(5, 25, 400), n)


def _raw(rows, lives, genera, unpooled):
    from scipy.stats import beta

    out = []
    for genus in ("all", *genera):
        for arm in ("single", "multi"):
            mine = [
                (r, v)
                for r, v in zip(rows, lives, strict=True)
                if r["arm"] == arm and genus in ("all", r["genus"]) and not r["left_out"]
            ]
            if not mine:
                continue
            x = sum(v["alive"][-1] > 0 and any(v["workers"]) for _, v in mine)
            n = len(mine)
            low = float(beta.ppf(0.05, x, n - x + 1)) if x else 0.0
            high = float(beta.ppf(0.95, x + 1, n - x)) if x < n else 1.0
            queens = sum(r["queens"] for r, _ in mine)
            lost = sum(r["queens"] - v["alive"][-1] for r, v in mine)
            out.append(
                dict(
                    genus=genus,
                    arm=arm,
                    foundings=n,
                    queens=queens,
                    queens_lost_before=lost // 2,
                    queens_lost_after=lost - lost // 2,
                    with_workers=sum(any(v["workers"]) for _, v in mine),
                    colonies=x,
                    followed=n,
                    share=x / n,
                    low=low,
                    high=high,
                    day=HORIZON,
                )
            )
            if unpooled:
                out[-1] |= dict(unpooled=x / n, unpooled_low=low, unpooled_high=high)
    return pd.DataFrame(out)
