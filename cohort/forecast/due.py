"""What is due on a day: looks, first workers, groups at risk.

Comes in: a study, a day and a `Basis`. Goes out: a frozen `Due`. Never: print, files.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
import pandas as pd

from cohort.base.errors import StudyError
from cohort.forecast.conditional import conditioned
from cohort.forecast.rounds import looks_due, open_foundings
from cohort.forecast.shelf_warmth import warmth_so_far
from cohort.forecast.windows import first_workers, groups
from cohort.history import History, history
from cohort.history.looks import start
from cohort.history.winters import winter_rests
from cohort.outcomes.basis import Basis
from cohort.study import Study
from cohort.terms.voice import Told, told, voice

ROOM: Final = "cohort.forecast"
"""Where the sentences are, see `cohort.terms.voice`."""
DATES: Final = ("low90", "low50", "middle", "high50", "high90")


@dataclass(frozen=True)
class Due:
    """What is due.

    Attributes
    ----------
    on : date
    told : tuple of Told
        What the forecast is based on, and what was left out of it.
    looks : DataFrame
        See `cohort.forecast.rounds.looks_due`.
    windows : DataFrame
        One row per founding that waits for workers: see
        `cohort.forecast.windows.first_workers`, the five days as dates, plus genus, queens,
        started, last_day (date on which its season ends).
    groups : DataFrame
        See `cohort.forecast.windows.groups`, plus genus.
    done : int
        Foundings of the study that are no longer looked at.
    """

    on: dt.date
    told: tuple[Told, ...]
    looks: pd.DataFrame
    windows: pd.DataFrame
    groups: pd.DataFrame
    done: int

    @property
    def says(self) -> tuple[str, ...]:
        """What the forecast is based on and leaves out, in English."""
        return voice(ROOM).tell(self.told)

    @property
    def overdue(self) -> pd.DataFrame:
        """Windows of the foundings whose first worker is overdue, longest wait first."""
        late = self.windows[self.windows["overdue"]]
        return late.sort_values("like_it", ascending=False, kind="stable", ignore_index=True)


def as_of(study: Study, on: dt.date) -> tuple[Study, int]:
    """The study as its sheets stood on a day, and how many later looks that leaves out.

    Raises
    ------
    StudyError
        No founding had been started by then.
    """
    now = pd.Timestamp(on)
    begun = study.foundings["followed_from"].fillna(study.foundings["started"]) <= now
    if not begun.any():
        first = study.foundings["started"].min()
        when = f"the first on {first.date()}" if len(study.foundings) else "none at all"
        raise StudyError(f"No founding had been started by {on} ({when}). Ask for a later day.")
    foundings = study.foundings[begun].reset_index(drop=True)
    own = set(foundings["founding"])
    checks, events = (
        frame[(frame["date"] <= now) & frame["founding"].isin(own)].reset_index(drop=True)
        for frame in (study.checks, study.events)
    )
    log = study.temperatures
    log = log[log["date"].isna() | (log["date"] <= now)].reset_index(drop=True)
    later = int((study.checks["date"] > now).sum())
    made = replace(study, foundings=foundings, checks=checks, events=events, temperatures=log)
    return made, later


def _since_winter(
    study: Study, past: History, foundings: pd.DataFrame, on: dt.date
) -> tuple[np.ndarray, np.ndarray]:
    """Days of winter rest up to a day, and whether a founding was not counted since."""
    rests = winter_rests(study, start(study)) if study.settings.through_winter else {}
    today = (pd.Timestamp(on) - foundings["zero"]).dt.days.to_numpy(float)
    end = foundings["end"].to_numpy(float)
    cold, counted = np.zeros(len(foundings)), np.zeros(len(foundings))
    for i, code in enumerate(foundings.index):
        if code in rests:
            cold[i], counted[i] = rests[code].cold(today[i]), rests[code].cold(end[i])
    return cold, counted < cold


def _dated(frame: pd.DataFrame, foundings: pd.DataFrame) -> pd.DataFrame:
    """Days since day 0 as dates, and what a reader wants beside them."""
    own = foundings.set_index("founding").reindex(frame["founding"])
    zero = own["zero"].to_numpy()
    out = frame.copy()
    for name in DATES:
        out[name] = zero + pd.to_timedelta(np.floor(frame[name]), unit="D").to_numpy()
    out["genus"], out["queens"] = own["genus"].to_numpy(), own["queens_end"].to_numpy(int)
    out["started"] = own["started"].to_numpy()
    out["last_day"] = zero + pd.to_timedelta(own["last_day"], unit="D").to_numpy()
    return out


def due(study: Study, on: dt.date, basis: Basis) -> Due:
    """What is due on a day.

    Parameters
    ----------
    study : Study
    on : date
        Later rows of the sheets are left aside, so that a past day is told as it was.
    basis : Basis
        What the forecast stands on.

    Raises
    ------
    StudyError
        No founding had been started by then.
    """
    study, later = as_of(study, on)
    past = history(study)
    frame = open_foundings(study, past, on)
    looks = looks_due(study, frame, on)
    done = len(past.foundings) - len(frame)
    awake = frame[~frame["winter"]]
    cold, unseen = _since_winter(study, past, awake, on)
    awake, cold = awake[~unseen], cold[~unseen]
    says = list(basis.told)
    if later:
        says.append(told("later", n=later, day=on))
        same = (basis.title, basis.season) == (study.settings.title, study.settings.season)
        says += [told("results_know")] if same else []
    says += _left_out(basis, awake)
    says += [told("look_after_winter", n=int(unseen.sum()))] if unseen.any() else []
    if awake.empty:
        says.append(told("nothing_open"))
        return Due(on, tuple(says), looks, _NO_WINDOWS, _NO_GROUPS, done)
    same = (basis.title, basis.season) == (study.settings.title, study.settings.season)
    pace, warm = warmth_so_far(study, past, awake, basis)
    says += warm
    what = conditioned(past, awake, basis, same_study=same, pace=pace)
    waiting = first_workers(what, awake["last_day"].to_numpy(float) - cold)
    today = (pd.Timestamp(on) - awake["zero"]).dt.days.to_numpy(float) - cold
    crowded = groups(what, today, waiting)
    crowded["genus"] = awake.set_index("founding")["genus"].reindex(crowded["founding"]).to_numpy()
    rested = dict(zip(awake["founding"], cold, strict=True))
    for name in DATES:
        waiting[name] += waiting["founding"].map(rested)
    dated = _dated(waiting.drop(columns="chance_by"), awake)
    return Due(
        on,
        tuple(says),
        looks,
        dated.sort_values("middle", ignore_index=True),
        crowded.sort_values("lose_one_14", ascending=False, ignore_index=True),
        done,
    )


_NO_WINDOWS: Final = pd.DataFrame(
    columns=[
        "founding",
        *DATES,
        "none_this_season",
        "unmated",
        "like_it",
        "overdue",
        "genus",
        "queens",
        "started",
        "last_day",
    ]
).astype({"overdue": bool})
_NO_GROUPS: Final = pd.DataFrame(
    columns=[
        "founding",
        "queens",
        "workers",
        "workers_in_14",
        "lose_one_7",
        "lose_all_7",
        "lose_one_14",
        "lose_all_14",
        "genus",
    ]
)


def _left_out(basis: Basis, awake: pd.DataFrame) -> list[Told]:
    """What the forecast cannot know."""
    out = []
    if basis.settled:
        new = sorted(set(awake["genus"]) - set(basis.draws.genera) - basis.rare)
        if new:
            out.append(told("new_kinds", kinds=tuple(new)))
        rare = sorted(set(awake["genus"]) & basis.rare)
        if rare:
            out.append(told("rare_kinds", kinds=tuple(rare)))
        most = max(basis.sizes, default=0)
        large = sorted(set(awake.loc[awake["size"] > most, "size"].astype(int)))
        if large:
            out.append(told("large_groups", sizes=tuple(map(str, large)), most=most))
    brood = int(np.isfinite(awake["brood_in"].to_numpy(float)).sum())
    if brood:
        out.append(told("foreign_brood", n=brood))
    return out
