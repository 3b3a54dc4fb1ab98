"""Covariates of the founding hazard, from columns of the sheets.

Comes in: the history's founding rows and the names in ``adjust``. Goes out: names and a centred
design matrix. Never: a silent drop: what cannot enter is refused with the reason.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
import pandas as pd

from cohort.errors import StudyError

MOST_BLANK = 0.5
"""Share of blank rows from which a column is refused."""


def _numeric(name: str, values: pd.Series) -> tuple[list[str], npt.NDArray[np.float64]]:
    x = values.astype(float).to_numpy()
    x = np.where(np.isnan(x), np.nanmean(x), x)
    return [name], ((x - x.mean()) / x.std())[:, None]


def _words(name: str, values: pd.Series) -> tuple[list[str], npt.NDArray[np.float64]]:
    """Indicator columns against the commonest word, centred."""
    order = list(values.value_counts().index)
    columns = [(values == word).to_numpy(float) for word in order[1:]]
    x = np.stack(columns, axis=1)
    return [f"{name}: {word} v {order[0]}" for word in order[1:]], x - x.mean(axis=0)


def design(
    frame: pd.DataFrame, adjust: tuple[str, ...]
) -> tuple[tuple[str, ...], npt.NDArray[np.float64], tuple[str, ...]]:
    """Names and centred columns of the covariates asked for, and notes.

    Numeric columns are divided by the study's SD; words become one column per word against the
    commonest. A few blanks take the mean (numbers) or a word of their own, and a note says so.

    Raises
    ------
    StudyError
        Unknown column, one value only, or blank in half the rows or more.
    """
    names: list[str] = []
    parts: list[npt.NDArray[np.float64]] = []
    notes: list[str] = []
    for column in adjust:
        if column not in frame.columns:
            known = ", ".join(("housing", "feeding", "mating_seen", "shelf_temperature"))
            raise StudyError(
                f"adjust: there is no column '{column}' to adjust for. Known here: {known}."
            )
        values = frame[column]
        number = pd.api.types.is_numeric_dtype(values)
        blank = values.isna() if number else values.fillna("").astype(str).eq("")
        if blank.mean() >= MOST_BLANK:
            raise StudyError(
                f"adjust: '{column}' is blank in {int(blank.sum())} of {len(frame)} foundings; "
                "fill it in or take it out of adjust."
            )
        if values[~blank].nunique() < 2:
            raise StudyError(
                f"adjust: '{column}' has the same value in every founding, so there is nothing "
                "to adjust for; take it out of adjust."
            )
        if blank.any():
            how = "taken as average" if number else "taken as a group of their own"
            count = int(blank.sum())
            who = "1 founding" if count == 1 else f"{count} foundings"
            notes.append(f"{who} without '{column}': {how}.")
        kind = _numeric if number else _words
        got, x = kind(column, values if number else values.where(~blank, "not written"))
        names += got
        parts.append(x)
    return tuple(names), np.hstack(parts) if parts else np.zeros((len(frame), 0)), tuple(notes)
