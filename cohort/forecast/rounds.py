"""Which foundings are open on a day, and when each is to be looked at next.

Comes in: a study, its history and a day. Goes out: frames with one row per open founding. Never:
a forecast; nothing here is estimated.

Foundings that are fed while founding (semi-claustral kinds, or `feeding` = fed) are looked at
twice as often, at least every other day: food spoils and water runs out (common practice, no
source). Groups are not looked at more often than singles: uneven looks would make the two ways
hard to compare.
"""

from __future__ import annotations

import datetime as dt
from typing import Final

import numpy as np
import pandas as pd

from cohort.history import History
from cohort.study import Study
from cohort.study.keepers import keepers_now
from cohort.terms.genera import founding_of

FED_SHARE: Final = 0.5
"""Rhythm of fed foundings as a share of the club's rhythm."""
FED_LEAST: Final = 2
WEEK: Final = 7


def zero_day(frame: pd.DataFrame) -> pd.Series:
    """Calendar day 0 of each founding of a history."""
    return frame["started"] - pd.to_timedelta(frame["closed"], unit="D")


def fed_while_founding(genus: str, feeding: str, species: str = "") -> bool:
    """Whether a founding must be fed before workers: what was written, else what is known."""
    return feeding == "fed" or (
        feeding == "" and founding_of(genus, species)[0] == "semi-claustral"
    )


def rhythm(genus: str, feeding: str, every: int, species: str = "") -> int:
    """Days from one look to the next."""
    if not fed_while_founding(genus, feeding, species):
        return every
    return min(every, max(FED_LEAST, round(every * FED_SHARE)))


def in_winter(study: Study, on: dt.date) -> set[str]:
    """Foundings that went into winter and have not come out by a day."""
    events = study.events[study.events["date"] <= pd.Timestamp(on)]
    rows = events[events["event"].isin(("winter-in", "winter-out"))].sort_values("date")
    last = rows.groupby("founding", sort=False)["event"].last()
    return set(last.index[(last == "winter-in").to_numpy(dtype=bool)])


def open_foundings(study: Study, past: History, on: dt.date) -> pd.DataFrame:
    """Foundings to look at on or after a day.

    A founding is open until its queens are lost, it ended, was given away or parted, or its last
    day (the horizon, or the end of the study) lies before the day.

    Returns
    -------
    DataFrame
        History rows with the index of the history, plus ``zero`` (calendar day 0), ``last_day``
        (days since day 0 on which the season ends for it) and ``winter``.
    """
    frame = past.foundings.copy()
    frame["zero"] = zero_day(frame)
    last = np.full(len(frame), float(past.horizon))
    if study.settings.ends is not None:
        left = (pd.Timestamp(study.settings.ends) - frame["zero"]).dt.days.to_numpy(float)
        last = np.minimum(last, left)
    frame["last_day"] = last
    frame["winter"] = frame["founding"].isin(in_winter(study, on))
    today = (pd.Timestamp(on) - frame["zero"]).dt.days
    going = frame["end_kind"].isin(("followed", "horizon", "winter"))
    chosen: pd.DataFrame = frame[going & (today >= 0) & (today <= last) & (frame["queens_end"] > 0)]
    return chosen


def looks_due(study: Study, foundings: pd.DataFrame, on: dt.date) -> pd.DataFrame:
    """When each open founding is to be looked at.

    Parameters
    ----------
    study : Study
    foundings : DataFrame
        As `open_foundings` gives them.
    on : date

    Returns
    -------
    DataFrame
        founding, keeper, genus, shelf, queens (last count), last_look (date; day 0 if none yet),
        every (days), due (date), late (days by which it is past, 0 if not), when (``today``,
        ``this week``, ``later``, ``winter``).
    """
    now = pd.Timestamp(on)
    species = dict(zip(study.foundings["founding"], study.foundings["species"], strict=True))
    whose = dict(zip(study.foundings["founding"], keepers_now(study), strict=True))
    last = study.checks.groupby("founding", sort=False)["date"].max()
    frame = pd.DataFrame(
        {
            "founding": foundings["founding"],
            "keeper": foundings["founding"].map(whose),
            "genus": foundings["genus"],
            "shelf": foundings["shelf"],
            "queens": foundings["queens_end"].astype(int),
            "last_look": foundings["founding"].map(last).fillna(foundings["started"]),
            "every": [
                rhythm(str(genus), str(feeding), study.settings.look_every, species[founding])
                for founding, genus, feeding in zip(
                    foundings["founding"], foundings["genus"], foundings["feeding"], strict=True
                )
            ],
        }
    )
    frame["due"] = frame["last_look"] + pd.to_timedelta(frame["every"], unit="D")
    frame["late"] = (now - frame["due"]).dt.days.clip(lower=0)
    ahead = (frame["due"] - now).dt.days
    frame["when"] = np.select(
        [foundings["winter"].to_numpy(dtype=bool), ahead <= 0, ahead < WEEK],
        ["winter", "today", "this week"],
        "later",
    )
    return frame.sort_values(["due", "keeper", "founding"], kind="stable", ignore_index=True)
