"""What is asked of a function by hand, looked at before any work.

Comes in: a value somebody gave. Goes out: the value, or a refusal that says what to give.
"""

from __future__ import annotations

import datetime as dt
import os
from pathlib import Path
from typing import Final

import numpy as np

from cohort.base.errors import StudyError

LEAST, MOST = 0.5, 0.99
MOST_ACCEPTED: Final = 0.999
_WANTED: Final = f"Give a share between {LEAST} and {MOST}: 0.9 holds 90 of 100."


def level_of(level: object) -> float:
    """How much a likely range holds, as a share.

    Raises
    ------
    StudyError
        It is no number between 0.5 and 0.99.
    """
    if isinstance(level, bool) or not isinstance(level, int | float | np.number):
        raise StudyError(f"level is {level!r}. {_WANTED}")
    if 100 * LEAST <= level <= 100 * MOST:
        raise StudyError(f"level is {level:g}. Write {float(level) / 100:g} for {level:g} of 100.")
    if not LEAST <= level <= MOST:  # nan, too
        raise StudyError(f"level is {level}. {_WANTED}")
    return float(level)


def folder_of(given: object) -> Path:
    """A folder somebody names.

    Raises
    ------
    StudyError
        It is neither text nor a path.
    """
    if isinstance(given, str | os.PathLike) and not isinstance(given, bytes):
        return Path(given)
    raise StudyError(f'{given!r} is no folder. Give its path, such as "my-study".')


def listener_of[T](say: T) -> T:
    """A function that is told what is being done.

    Raises
    ------
    StudyError
        It cannot be called.
    """
    if callable(say):
        return say
    raise StudyError(f"say is {say!r}. Give a function that takes a text, such as say=print.")


def whole_of(name: str, given: object, least: int = 0) -> int:
    """A whole number that is wanted, of 63 bits at most.

    Raises
    ------
    StudyError
        It is none, below the least or beyond that.
    """
    if isinstance(given, int | np.integer) and not isinstance(given, bool):
        number = int(given)
        if least <= number < 2**63:
            return number
    raise StudyError(f"{name} is {given!r}. Give a whole number, {least} or more.")


def number_of(name: str, given: object, low: float, high: float, why: str) -> float:
    """A number within bounds.

    Raises
    ------
    StudyError
        It is none, or lies beyond them.
    """
    if isinstance(given, int | float | np.integer | np.floating) and not isinstance(given, bool):
        number = float(given)
        if low <= number <= high:
            return number
    raise StudyError(f"{name} is {given!r}. Give a number from {low:g} to {high:g}: {why}.")


def acceptance_of(given: object) -> float:
    """A target acceptance of the sampler; see `number_of`."""
    return number_of("accept", given, LEAST, MOST_ACCEPTED, "the more, the smaller the steps")


def day_of(today: object) -> dt.date:
    """The day after which a date has not come yet; today's where nothing was said.

    Raises
    ------
    StudyError
        It is no date.
    """
    if today is None:
        return dt.date.today()
    if isinstance(today, dt.datetime):
        return today.date()
    if isinstance(today, dt.date):
        return today
    raise StudyError(f"today is {today!r}. Give a date, as datetime.date(2026, 7, 4).")


def one_of[T](given: object, kind: type[T], how: str) -> T:
    """A value of the class that is wanted.

    Parameters
    ----------
    given : object
    kind : type
    how : str
        A sentence on how to come by one.

    Raises
    ------
    StudyError
        It is of another class.
    """
    if isinstance(given, kind):
        return given
    name = kind.__name__
    several = isinstance(given, list | tuple) and any(isinstance(one, kind) for one in given)
    if isinstance(given, list | tuple) and several and name == "Study":
        raise StudyError(
            f"These are {len(given)} studies. Make one of them first, with "
            "cohort.pool_studies([a, b])."
        )
    raise StudyError(f"A {name} is wanted here, not a {type(given).__name__}. {how}")
