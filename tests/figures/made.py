"""Invented studies for the tests of pictures and page.

In comes a handful of wishes (genera, foundings, seed, what must not occur); out comes a
`Material`: study sheets, history and a set of results that agree with one another (the fair pair
is worked out per draw, so 1-(1-P)^k holds inside each draw). Nothing here is estimated from the
invented sheets: the model is another part's affair, the page only prints what it is given.
"""

from __future__ import annotations

import dataclasses
import datetime as dt
import types
from typing import Any

import numpy as np
import pandas as pd

GENERA = ("Lasius", "Messor", "Formica", "Myrmica")
HORIZON = 180
SHORT = ("queen_survival", "first_worker", "queens_after_workers", "colony", "first_brood")


def material(
    *,
    seed: int = 1,
    genera: tuple[str, ...] = GENERA,
    per: int = 14,
    settled: bool = True,
    multi: bool = True,
    all_dead: bool = False,
    workers: bool = True,
    chance: tuple[float, float] | None = None,
    prior_rules: bool = False,
    catches: bool = True,
    raw_unpooled: bool = True,
    note: str = "",
    names: tuple[str, ...] = (),
    random: bool = True,
    shut: bool = False,
    checks_table: bool = True,
) -> Any:
    """Make one invented study with its results.

    Parameters
    ----------
    seed : int
        Seed of the draw.
    genera : tuple of str
        Genera of the study.
    per : int
        Foundings of each genus.
    chance : tuple of float, optional
        Chance of a lasting colony for one queen and for a group, the same for every genus.
    """
    from cohort.figures.material import Material

    rng = np.random.default_rng(seed)
    rows = _foundings(rng, genera, per, multi, note, names, random)
    lives = [_life(rng, row, all_dead, workers) for row in rows]
    study = _study(rng, rows, lives, genera, catches)
    history = _history(rows, lives)
    results = _results(rng, rows, lives, genera, chance, prior_rules, raw_unpooled, checks_table)
    if shut:
        results = dataclasses.replace(
            results, diagnosis={**results.diagnosis, "settled": False, "why": "R-hat 1.04"}
        )
    return Material(results=results, history=history, study=study)


@dataclasses.dataclass(frozen=True)
class Results:
    """Same fields as `cohort.results.Results`."""

    comparisons: pd.DataFrame
    curves: pd.DataFrame
    foundings: pd.DataFrame
    raw: pd.DataFrame
    diagnosis: dict[str, Any]
    run: dict[str, Any]


@dataclasses.dataclass(frozen=True)
class History:
    """Same fields as `cohort.history.History`."""

    foundings: pd.DataFrame
    intervals: pd.DataFrame
    horizon: int
    later: pd.DataFrame = dataclasses.field(default_factory=pd.DataFrame)


@dataclasses.dataclass(frozen=True)
class Study:
    """Same fields as `cohort.study.Study`."""

    settings: Any
    kinds: pd.DataFrame
    foundings: pd.DataFrame
    checks: pd.DataFrame
    events: pd.DataFrame
    catches: pd.DataFrame
    temperatures: pd.DataFrame
    faulty: pd.DataFrame
    sources: tuple[Any, ...]


def settings(**changes: Any) -> Any:
    """Settings of the invented study."""
    start = dict(
        title="Three tubes or one",
        season="2025",
        horizon_days=HORIZON,
        ends=dt.date(2026, 1, 31),
        clock="setup",
        date_order="",
        place="Estuary region",
        leave_out=("mites", "boosted"),
        fight_rule="leave",
        primary_question="colony",
        adjust=(),
        show_keepers=False,
        photo_credit="",
        look_every=4,
    )
    return types.SimpleNamespace(**{**start, **changes})


def _foundings(rng, genera, per, multi, note, names, random):
    rows = []
    day = pd.Timestamp("2025-06-15")
    for g, genus in enumerate(genera):
        for i in range(per):
            size = 1 if (i % 2 == 0 or not multi) else (2 if i % 6 == 1 else 3)
            keeper = f"K{1 + (i + g) % 5}"
            n = len(rows) + 1
            rows.append(
                dict(
                    founding=names[n - 1] if n <= len(names) else f"{keeper}-{n:03d}",
                    genus=genus,
                    named=not genus.startswith("kind"),
                    kind="",
                    species="",
                    started=day + dt.timedelta(days=int(rng.integers(0, 40))),
                    queens=size,
                    arm="single" if size == 1 else "multi",
                    left_out="mites" if rng.random() < 0.04 else "",
                    assigned="random" if random or rng.random() < 0.5 else "chosen",
                    block=f"b{g}",
                    keeper=keeper,
                    catch=f"C{g + 1}",
                    from_="",
                    flight_date=pd.NaT,
                    followed_from=pd.NaT,
                    housing="tube",
                    feeding="none",
                    shelf="",
                    mating_seen=0,
                    marked="",
                    give_or_take=0.0,
                    photo="",
                    note=note,
                    file="foundings.csv",
                    row=n + 1,
                )
            )
    return rows


def _life(rng, row, all_dead, workers):
    """Days of deaths, first worker and end of one founding, and its looks."""
    k = row["queens"]
    h1 = 0.03 if all_dead else 0.0035 * (1.3 if k > 1 else 1.0)
    first = float(rng.lognormal(np.log(48), 0.15)) if workers and rng.random() < 0.93 else np.inf
    deaths = list(rng.exponential(1 / h1, k))
    if k > 1 and np.isfinite(first):
        for i in range(k):
            if deaths[i] > first:
                deaths[i] = first + rng.exponential(1 / 0.02)
        last = int(np.argmax(deaths))
        if rng.random() < 0.85 and deaths[last] > first:
            deaths[last] = deaths[last] + 400
    looks = np.cumsum(rng.integers(3, 7, 60)).astype(float)
    looks = looks[looks <= 200]
    end_kind = "followed"
    stop = np.inf
    lot = rng.random()
    if lot < 0.05:
        end_kind, stop = "given", float(rng.uniform(30, 150))
    elif lot < 0.09:
        end_kind, stop = "accident", float(rng.uniform(20, 150))
    looks = looks[looks < stop]
    if len(looks) < 2:
        looks = np.array([4.0, 8.0])
    alive = [int(sum(d > t for d in deaths)) for t in looks]
    if 0 in alive:
        cut = alive.index(0) + 1
        looks, alive, end_kind = looks[:cut], alive[:cut], "all lost"
    had = [
        bool(np.isfinite(first) and first <= t and sum(d > first for d in deaths)) for t in looks
    ]
    return dict(looks=looks, alive=alive, workers=had, end_kind=end_kind)


def _history(rows, lives):
    out, intervals = [], []
    for code, (row, life) in enumerate(zip(rows, lives, strict=True)):
        looks, alive, had = life["looks"], life["alive"], life["workers"]
        kind = life["end_kind"]
        keep = looks <= HORIZON
        if kind == "followed" and not keep.all():
            kind = "horizon"
        looks, alive = looks[keep], [a for a, k in zip(alive, keep, strict=True) if k]
        had = [h for h, k in zip(had, keep, strict=True) if k]
        before, n = 0.0, row["queens"]
        lost_after = lost_by = np.inf
        for t, a in zip(looks, alive, strict=True):
            intervals.append(
                dict(code=code, after=before, by=float(t), at_risk=n, alive=a, lost=n - a)
            )
            if a == 0:
                lost_after, lost_by = before, float(t)
            before, n = float(t), a
        seen = had.index(True) if True in had else None
        first_by = float(looks[seen]) if seen is not None else np.inf
        after = [float(t) for t, h in zip(looks, had, strict=True) if not h]
        first_after = max([t for t in after if t < first_by], default=0.0)
        out.append(
            dict(
                founding=row["founding"],
                genus=row["genus"],
                named=row["named"],
                species=row["species"],
                size=row["queens"],
                arm=row["arm"],
                keeper=row["keeper"],
                flight=row["catch"],
                block=row["block"],
                assigned=row["assigned"],
                left_out=row["left_out"],
                compared=row["left_out"] == "",
                housing="tube",
                feeding="none",
                shelf="",
                mating_seen=0,
                started=row["started"],
                entry=0.0,
                entry_queens=row["queens"],
                entry_workers=False,
                first_after=first_after,
                first_by=first_by,
                looked_to=first_after,
                end=float(looks[-1]),
                end_kind=kind,
                lost_after=lost_after,
                lost_by=lost_by,
                queens_end=alive[-1],
                brood_in=np.inf,
                workers_cens=np.inf,
                brood_day=np.nan,
                brood_workers=np.nan,
            )
        )
    return History(pd.DataFrame(out), pd.DataFrame(intervals), HORIZON)


def _study(rng, rows, lives, genera, with_catches):
    checks, events = [], []
    for row, life in zip(rows, lives, strict=True):
        for t, a, h in zip(life["looks"], life["alive"], life["workers"], strict=True):
            date = row["started"] + dt.timedelta(days=float(t))
            checks.append(
                dict(
                    founding=row["founding"],
                    date=date,
                    queens_alive=a,
                    at_least=False,
                    workers=3 if h else 0,
                    workers_at_least=False,
                    note=row["note"],
                    file="checks.csv",
                    row=len(checks) + 2,
                    from_rest=False,
                )
            )
        if life["end_kind"] in ("given", "accident"):
            date = row["started"] + dt.timedelta(days=float(life["looks"][-1]) + 1)
            events.append(
                dict(
                    founding=row["founding"],
                    date=date,
                    event="end",
                    number=pd.NA,
                    other=life["end_kind"],
                    note=row["note"],
                    file="events.csv",
                    row=len(events) + 2,
                )
            )
    catches = []
    for g, genus in enumerate(genera if with_catches else ()):
        used = sum(r["queens"] for r in rows if r["genus"] == genus)
        died = int(rng.integers(0, 4))
        catches.append(
            dict(
                catch=f"C{g + 1}",
                date=pd.Timestamp("2025-06-12") + dt.timedelta(days=3 * (g % 9)),
                kind="",
                genus=genus,
                queens=used + died + int(rng.integers(0, 3)),
                method=("light", "hand", "trap", "chamber")[g % 4],
                keeper=f"K{1 + g % 5}",
                place="Estuary region",
                not_kept=int(rng.integers(0, 9)) if g else pd.NA,
                not_kept_why="released" if g % 2 else "frozen",
                died=died,
            )
        )
    columns = "catch date kind genus queens method keeper place not_kept not_kept_why died".split()
    catch_frame = pd.DataFrame(catches, columns=columns)
    for name in ("queens", "not_kept", "died"):
        catch_frame[name] = catch_frame[name].astype("Int64")
    catch_frame["date"] = pd.to_datetime(catch_frame["date"])
    foundings = pd.DataFrame(rows)
    foundings["queens"] = foundings["queens"].astype("int64")
    check_frame = pd.DataFrame(checks)
    for name in ("queens_alive", "workers"):
        check_frame[name] = check_frame[name].astype("Int64")
    event_frame = pd.DataFrame(
        events, columns="founding date event number other note file row".split()
    )
    event_frame["date"] = pd.to_datetime(event_frame["date"])
    event_frame["number"] = event_frame["number"].astype("Int64")
    return Study(
        settings=settings(),
        kinds=pd.DataFrame(columns="kind genus species id_confidence first_called called".split()),
        foundings=foundings,
        checks=check_frame,
        events=event_frame,
        catches=catch_frame,
        temperatures=pd.DataFrame(columns=["shelf", "date", "min_c", "max_c"]),
        faulty=pd.DataFrame(columns=["founding", "why", "file", "row"]),
        sources=(types.SimpleNamespace(name="foundings.csv", sha256="0" * 64),),
    )


# ---------------------------------------------------------------- results


def _row(question, quantity, unit, genus, arm, queens, day, draws, foundings, **extra):
    low, high = np.quantile(draws, [0.05, 0.95])
    mean = float(np.exp(np.mean(np.log(draws)))) if arm == "ratio" else float(np.mean(draws))
    base = dict(
        question=question,
        quantity=quantity,
        unit=unit,
        genus=genus,
        arm=arm,
        queens=queens,
        day=day,
        mean=mean,
        low=float(low),
        high=float(high),
        level=0.9,
        foundings=foundings,
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


def _results(rng, rows, lives, genera, chance, prior_rules, unpooled, checks_table):
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
    curves = pd.concat([_curves(rows, lives, genera), _bands(sets)], ignore_index=True)
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
                group=g,
                observed=float(o),
                low=float(o) - 4,
                high=float(o) + 5,
                mean=float(o) + 0.4,
                tail_area=0.4,
            )
            for c, o in (
                ("losses_before_workers", 18),
                ("losses_after_workers", 22),
                ("all_lost", 12),
                ("without_workers", 9),
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
    )


def _genus_rows(rng, genus, draws, count, prior_rules):
    out = []
    p1 = draws[1]
    n1 = count[1]
    sizes = [k for k in draws if k > 1]
    extra = dict(prior_rules=prior_rules)

    def add(*args, **more):
        out.append(_row(*args, **{**extra, **more}))

    for day, up in ((30, 1.3), (60, 1.2), (90, 1.12), (HORIZON, 1.0)):
        for quantity in ("share_alive_before_workers", "share_alive"):
            s1 = np.clip(p1 * up * 1.02, 0, 0.999)
            add("queen_survival", quantity, "share", genus, "single", 1, day, s1, n1)
            for k in sizes:
                sk = np.clip(draws[k] * up * 0.8, 0, 0.999)
                add("queen_survival", quantity, "share", genus, "multi", k, day, sk, count[k])
                add(
                    "queen_survival",
                    quantity,
                    "share",
                    genus,
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
            "queen_survival",
            "hazard_ratio",
            "ratio",
            genus,
            "ratio",
            k,
            HORIZON,
            ratio,
            n1 + count[k],
            **_against(ratio, 0.5, 0, True, True),
        )
        time = np.exp(rng.normal(-0.06, 0.05, 400))
        add(
            "first_worker",
            "time_ratio",
            "ratio",
            genus,
            "ratio",
            k,
            HORIZON,
            time,
            n1 + count[k],
            **_against(time, 0.6, 0, True, True),
        )
    for arm, k in (("single", 1), *(("multi", k) for k in sizes)):
        n = count[k]
        base = draws[k]
        add("queen_survival", "queen_days", "days", genus, arm, k, HORIZON, base * 170, n)
        for day, f in ((30, 0.05), (45, 0.45), (60, 0.9), (90, 1.0), (HORIZON, 1.02)):
            add(
                "first_worker",
                "chance_by_day",
                "chance",
                genus,
                arm,
                k,
                day,
                np.clip(base * f * 1.08, 0, 0.99),
                n,
            )
        add(
            "first_worker",
            "median_day",
            "days",
            genus,
            arm,
            k,
            HORIZON,
            (49 - 3 * (k > 1)) * np.exp(rng.normal(0, 0.04, 400)),
            n,
        )
        add(
            "first_worker",
            "fertile_share",
            "share",
            genus,
            arm,
            k,
            HORIZON,
            rng.beta(40, 4, 400),
            n,
        )
        add(
            "first_brood",
            "workers_after_30_days",
            "workers",
            genus,
            arm,
            k,
            30,
            np.exp(rng.normal(np.log(11 + 4 * k), 0.1, 400)),
            n,
        )
        for day, f in ((60, 1.1), (90, 1.05), (HORIZON, 1.0)):
            add(
                "colony",
                "chance_per_founding",
                "chance",
                genus,
                arm,
                k,
                day,
                np.clip(base * f * 1.05, 0, 0.99),
                n,
            )
            add(
                "colony",
                "chance_lasting",
                "chance",
                genus,
                arm,
                k,
                day,
                np.clip(base * f, 0, 0.99),
                n,
            )
            add(
                "colony",
                "colonies_per_queen",
                "colonies",
                genus,
                arm,
                k,
                day,
                np.clip(base * f, 0, 0.99) / k,
                n,
            )
            if k > 1:
                one = np.clip(p1 * f, 0, 0.99)
                many = np.clip(base * f, 0, 0.99)
                apart = 1 - (1 - one) ** k
                add(
                    "colony",
                    "at_least_one_from_same_queens",
                    "chance",
                    genus,
                    "single",
                    k,
                    day,
                    apart,
                    n1,
                )
                add(
                    "colony",
                    "colonies_from_same_queens",
                    "colonies",
                    genus,
                    "single",
                    k,
                    day,
                    k * one,
                    n1,
                )
                add(
                    "colony",
                    "same_queens_any",
                    "chance",
                    genus,
                    "difference",
                    k,
                    day,
                    many - apart,
                    n1 + n,
                    **_against(many - apart, 0.12, 0.05),
                )
                add(
                    "colony",
                    "same_queens_count",
                    "colonies",
                    genus,
                    "difference",
                    k,
                    day,
                    many - k * one,
                    n1 + n,
                    **_against(many - k * one, 0.04, 0.05),
                )
                add(
                    "colony",
                    "chance_lasting",
                    "chance",
                    genus,
                    "difference",
                    k,
                    day,
                    many - one,
                    n1 + n,
                    **_against(many - one, 0.85, 0.05),
                )
        if k > 1:
            for day, left in ((30, 0.45), (60, 0.65), (90, 0.75)):
                none = rng.beta(8, 50, 400)
                one = (1 - none) * left
                add("queens_after_workers", "chance_one_left", "chance", genus, arm, k, day, one, n)
                add(
                    "queens_after_workers",
                    "chance_none_left",
                    "chance",
                    genus,
                    arm,
                    k,
                    day,
                    none,
                    n,
                )
                add(
                    "queens_after_workers",
                    "chance_several_left",
                    "chance",
                    genus,
                    arm,
                    k,
                    day,
                    1 - one - none,
                    n,
                )
                add(
                    "queens_after_workers",
                    "expected_left",
                    "queens",
                    genus,
                    arm,
                    k,
                    day,
                    one + 2 * (1 - one - none),
                    n,
                )
            add(
                "queens_after_workers",
                "rivalry_ratio",
                "ratio",
                genus,
                "ratio",
                k,
                90,
                np.exp(rng.normal(1.4, 0.3, 400)),
                n,
            )
            add(
                "queens_after_workers",
                "last_fight_takes_both",
                "share",
                genus,
                "multi",
                k,
                90,
                rng.beta(5, 25, 400),
                n,
            )
    return out


def _curves(rows, lives, genera):
    """Plain counts by day (no censoring): enough to have something honest to draw."""
    out = []
    days = np.arange(0, HORIZON + 1, 4)
    for genus in ("all", *genera):
        for arm in ("single", "multi"):
            mine = [
                (r, v)
                for r, v in zip(rows, lives, strict=True)
                if r["arm"] == arm and genus in ("all", r["genus"])
            ]
            if not mine:
                continue
            n = sum(r["queens"] for r, _ in mine)
            for day in days:
                alive = sum(_at(v, day, r["queens"]) for r, v in mine)
                had = sum(_had(v, day) for _, v in mine)
                for curve, value, base in (
                    ("queen_survival", alive / n, n),
                    ("first_worker", had / len(mine), len(mine)),
                ):
                    half = 1.64 * np.sqrt(max(value * (1 - value), 0.001) / base)
                    out.append(
                        dict(
                            curve=curve,
                            genus=genus,
                            arm=arm,
                            day=float(day),
                            estimate=value,
                            low=max(0, value - half),
                            high=min(1, value + half),
                            at_risk=base,
                        )
                    )
            if arm == "multi":
                out += _left_rows(genus, mine)
    columns = "curve genus arm day estimate low high at_risk".split()
    return pd.DataFrame(out, columns=columns)


def _bands(sets):
    """Model curves, smooth, with the columns of the curves."""
    out = []
    for genus, draws in sets.items():
        for arm, k in (("single", 1), ("multi", max(draws))):
            for day in range(0, HORIZON + 1, 2):
                alive = (
                    draws[k] ** (day / HORIZON)
                    if arm == "single"
                    else (draws[k] * 0.8) ** (day / HORIZON)
                )
                had = draws[k] / (1 + np.exp(-(day - 48) / 5))
                for curve, values in (("queen_survival", alive), ("first_worker", had)):
                    low, high = np.quantile(values, [0.05, 0.95])
                    out.append(
                        dict(
                            curve=f"model_{curve}",
                            genus=genus,
                            arm=arm,
                            day=float(day),
                            estimate=values.mean(),
                            low=low,
                            high=high,
                            at_risk=np.nan,
                        )
                    )
    return pd.DataFrame(out)


def _left_rows(genus, mine):
    out = []
    got = [(v, float(v["looks"][v["workers"].index(True)])) for _, v in mine if any(v["workers"])]
    for day in range(0, 91, 3) if got else ():
        left = np.array([_at(v, first + day, 9) for v, first in got])
        for name, hit in (("0", left == 0), ("1", left == 1), ("several", left > 1)):
            share = float(hit.mean())
            out.append(
                dict(
                    curve=f"queens_left_{name}",
                    genus=genus,
                    arm="multi",
                    day=float(day),
                    estimate=share,
                    low=max(0, share - 0.1),
                    high=min(1, share + 0.1),
                    at_risk=len(got),
                )
            )
    return out


def _at(life, day, start):
    before = [a for t, a in zip(life["looks"], life["alive"], strict=True) if t <= day]
    return before[-1] if before else start


def _had(life, day):
    return any(h and t <= day for t, h in zip(life["looks"], life["workers"], strict=True))


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
                    lost_before=lost // 2,
                    lost_after=lost - lost // 2,
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
