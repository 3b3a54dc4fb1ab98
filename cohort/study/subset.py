"""A part of a study, chosen by what its foundings have in common.

What comes in: a `Study`, and columns of its foundings with the values wanted. What goes out: a
smaller frozen `Study`. Nothing of the foundings that stay is altered.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace
from typing import Any

import numpy as np
import pandas as pd

from cohort.base.errors import StudyError
from cohort.base.frames import held
from cohort.study import Study
from cohort.terms.near import did_you_mean

_SHOWN = 12
"""So many values are told of a column in an error."""


def only(study: Study, which: Mapping[str, object]) -> Study:
    """The study of some foundings alone; see `Study.only`."""
    found = held(study, "foundings")
    keep = np.ones(len(found), dtype=bool)
    for name, wanted in which.items():
        keep &= _chosen(found, name, wanted)
    if not keep.any():
        said = ", ".join(f"{name}={wanted!r}" for name, wanted in which.items())
        raise StudyError(f"No founding is all of this at once: {said}.")
    kept = found[keep].reset_index(drop=True)
    names = set(kept["founding"])
    looks, events = (held(study, name) for name in ("checks", "events"))
    catches = held(study, "catches")
    catches = catches[catches["catch"].isin(set(kept["catch"]) - {""})]
    kinds = held(study, "kinds")
    words = {*kept["kind"], *catches["kind"]}
    return replace(
        study,
        kinds=kinds[kinds["kind"].isin(words)].reset_index(drop=True),
        foundings=kept,
        checks=looks[looks["founding"].isin(names)].reset_index(drop=True),
        events=_events(events, found[~keep], names),
        catches=catches.reset_index(drop=True),
    )


def _chosen(found: pd.DataFrame, name: str, wanted: object) -> np.ndarray:
    """Which foundings bear one of the values wanted in a column."""
    if name not in found.columns:
        columns = [str(column) for column in found.columns]
        raise StudyError(
            f"Foundings have no column '{name}'. "
            f"{did_you_mean(name, columns) or 'They have ' + ', '.join(columns) + '.'}"
        )
    alone = isinstance(wanted, str) or not isinstance(wanted, Iterable)
    values: list[Any] = [wanted] if alone else list(wanted)  # type: ignore[call-overload]  # any iterable
    column = found[name]
    for value in values:
        if not bool(column.eq(value).fillna(False).any()):
            raise StudyError(f"No founding has '{value}' in {name}. {_there(column, value)}")
    return column.isin(values).to_numpy(dtype=bool)


def _there(column: pd.Series, value: object) -> str:
    texts = [str(one) for one in column.dropna().unique() if str(one)]
    more = ", ..." if len(texts) > _SHOWN else ""
    listed = ", ".join(sorted(texts)[:_SHOWN]) + more if texts else "nothing"
    return did_you_mean(str(value), texts) or f"There is {listed}."


def _events(events: pd.DataFrame, gone: pd.DataFrame, names: set[str]) -> pd.DataFrame:
    """Events of those that stay; where a founding was parted from one of them, that it was.

    The row of the new founding tells of the parting as much as an event does, and it goes.
    """
    kept = events[events["founding"].isin(names)]
    parted = gone[gone["from_"].isin(names)]
    if not len(parted):
        return kept.reset_index(drop=True)
    told = pd.DataFrame(
        {
            "founding": parted["from_"],
            "date": parted["started"],
            "event": "queens-out",
            "number": pd.array([pd.NA] * len(parted), dtype="Int64"),
            "other": parted["founding"],
            "note": "",
            "file": parted["file"],
            "row": parted["row"],
        }
    )
    known = set(zip(kept["founding"], kept["other"], strict=True))
    new = [pair not in known for pair in zip(told["founding"], told["other"], strict=True)]
    return pd.concat([kept, told[new]], ignore_index=True)
