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
from made_results import HORIZON, results_of
from made_verdicts import verdicts_of
from small_study import blank_founding

from cohort.terms.adjusting import Adjust
from cohort.terms.contract import COVARIATES

GENERA = ("Lasius", "Messor", "Formica", "Myrmica")


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
    from cohort.nonparametric.counts import derived

    rng = np.random.default_rng(seed)
    rows = _foundings(rng, genera, per, multi, note, names, random)
    lives = [_life(rng, row, all_dead, workers) for row in rows]
    study = _study(rng, rows, lives, genera, catches)
    history = _history(rows, lives)
    results = results_of(rng, rows, lives, genera, chance, prior_rules, raw_unpooled, checks_table)
    results = dataclasses.replace(results, foundings=derived(history).drop(columns="keeper"))
    results = judged(results, history)
    if shut:
        results = dataclasses.replace(
            results, diagnosis={**results.diagnosis, "settled": False, "why": "R-hat 1.04"}
        )
    return Material(results=results, history=history, study=study)


def judged(results: Any, history: Any, **how: Any) -> Any:
    """The same results with the verdicts that belong to their comparisons."""
    verdicts, assumed = verdicts_of(results.comparisons, history.foundings, HORIZON, **how)
    return dataclasses.replace(results, verdicts=verdicts, sensitivity=assumed)


def judged_anew(material: Any, **how: Any) -> Any:
    """The same material, judged again after its comparisons or foundings were changed."""
    results = judged(material.results, material.history, **how)
    return dataclasses.replace(material, results=results)


@dataclasses.dataclass(frozen=True)
class History:
    """Same fields as `cohort.history.History`."""

    foundings: pd.DataFrame
    intervals: pd.DataFrame
    horizon: int
    later: pd.DataFrame = dataclasses.field(default_factory=pd.DataFrame)
    winters: dict = dataclasses.field(default_factory=dict)


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
        adjust=Adjust(),
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
                blank_founding()
                | dict(
                    founding=names[n - 1] if n <= len(names) else f"{keeper}-{n:03d}",
                    genus=genus,
                    named=not genus.startswith("kind"),
                    started=day + dt.timedelta(days=int(rng.integers(0, 40))),
                    queens=size,
                    arm="single" if size == 1 else "multi",
                    left_out="mites" if rng.random() < 0.04 else "",
                    assigned="random" if random or rng.random() < 0.5 else "chosen",
                    block=f"b{g}",
                    keeper=keeper,
                    catch=f"C{g + 1}",
                    housing="tube",
                    feeding="none",
                    mating_seen=0,
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
                season="2026",
                size=row["queens"],
                arm=row["arm"],
                keeper=row["keeper"],
                flight=row["catch"],
                block=row["block"],
                assigned=row["assigned"],
                left_out=row["left_out"],
                compared=row["left_out"] == "",
                **{column.name: row[column.name] for column in COVARIATES},
                shelf="",
                mating_seen=0,
                started=row["started"],
                closed=0.0,
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
    columns = [
        "catch",
        "date",
        "kind",
        "genus",
        "queens",
        "method",
        "keeper",
        "place",
        "not_kept",
        "not_kept_why",
        "died",
    ]
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
        events, columns=["founding", "date", "event", "number", "other", "note", "file", "row"]
    )
    event_frame["date"] = pd.to_datetime(event_frame["date"])
    event_frame["number"] = event_frame["number"].astype("Int64")
    return Study(
        settings=settings(),
        kinds=pd.DataFrame(
            columns=["kind", "genus", "species", "id_confidence", "first_called", "called"]
        ),
        foundings=foundings,
        checks=check_frame,
        events=event_frame,
        catches=catch_frame,
        temperatures=pd.DataFrame(columns=["shelf", "date", "min_c", "max_c"]),
        faulty=pd.DataFrame(columns=["founding", "why", "file", "row"]),
        sources=(types.SimpleNamespace(name="foundings.csv", sha256="0" * 64),),
    )
