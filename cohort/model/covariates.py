"""Covariates, from columns of the sheets, and which parts of the model they may move.

Comes in: the history's founding rows and what is to be adjusted for. Goes out: names and a centred
design matrix. Never: a silent drop: what cannot enter is refused with the reason.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import NamedTuple

import numpy as np
import numpy.typing as npt
import pandas as pd

from cohort.base.errors import StudyError
from cohort.terms.adjusting import FIRST_WORKER, SEEN, WARMTH, Adjust
from cohort.terms.levels import PARTS
from cohort.terms.words import ADJUST

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


def _own(values: pd.Series, notes: list[str]) -> pd.Series:
    """A column of one's own; in a sheet it is text, and numbers where every cell is one."""
    if values.dtype != object:
        return values
    texts = values.fillna("").astype(str).str.strip()
    numbers = pd.to_numeric(texts.str.replace(",", ".", regex=False), errors="coerce")
    read = np.isfinite(numbers.to_numpy(dtype=np.float64))
    if not read.any() or not (read | texts.eq("").to_numpy()).all():
        return values
    notes.append(f"'{values.name}' holds nothing but numbers and enters as such.")
    return numbers


class Design(NamedTuple):
    """Covariates of a study.

    Attributes
    ----------
    names : tuple of str
    x : float array, shape (foundings, covariates)
    notes : tuple of str
    of : tuple of str
        Column of the history that each covariate was made of.
    """

    names: tuple[str, ...]
    x: npt.NDArray[np.float64]
    notes: tuple[str, ...]
    of: tuple[str, ...]


def moves_of(made: Design, adjust: Adjust) -> npt.NDArray[np.bool_]:
    """Which parts of the model each covariate may move, shape (parts, covariates).

    The warmth of a shelf moves the first worker by a parameter of its own (``warm_days``).
    """
    out = np.zeros((len(PARTS), len(made.of)), np.bool_)
    for i, part in enumerate(PARTS):
        wanted = set(adjust.moving(part)) - ({WARMTH} if part == FIRST_WORKER else set())
        out[i] = [column in wanted for column in made.of]
    return out


def covariate_columns(frame: pd.DataFrame, adjust: Adjust | Iterable[str]) -> Design:
    """Names and centred columns of the covariates asked for, and notes.

    Numeric columns are divided by the study's SD; words become one column per word against the
    commonest. A column of one's own in which every cell is a number is taken as numbers. A few
    blanks take the mean (numbers) or a word of their own, and a note says so.

    Raises
    ------
    StudyError
        Unknown column, one value only, or blank in half the rows or more; ``mating_seen`` is to
        move the share of mated queens, which it does without being asked.
    """
    adjust = Adjust.of(adjust)
    if SEEN in adjust.mated:
        raise StudyError(
            f"adjust: {SEEN} tells of being mated in every comparison; take it out of mated."
        )
    names: list[str] = []
    of: list[str] = []
    parts: list[npt.NDArray[np.float64]] = []
    notes: list[str] = []
    for column in adjust.names:
        if column not in frame.columns:
            known = ", ".join(ADJUST)
            raise StudyError(
                f"adjust: there is no column '{column}' to adjust for. Known here: {known}."
            )
        if set(column) & set(",;:"):
            raise StudyError(
                f"adjust: '{column}' holds a comma, a semicolon or a colon, which stand between "
                "names; rename the column."
            )
        values = frame[column] if column in ADJUST else _own(frame[column], notes)
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
        if column == WARMTH and not set(adjust.before + adjust.after + adjust.mated) & {WARMTH}:
            continue  # it moves the first worker only, by a parameter of its own
        names += got
        of += [column] * len(got)
        parts.append(x)
    x = np.hstack(parts) if parts else np.zeros((len(frame), 0))
    return Design(tuple(names), x, tuple(notes), tuple(of))
