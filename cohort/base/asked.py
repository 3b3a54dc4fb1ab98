"""What is asked of a function by hand, looked at before any work.

Comes in: a value somebody gave. Goes out: the value, or a refusal that says what to give.
"""

from __future__ import annotations

from typing import Final

import numpy as np

from cohort.base.errors import StudyError

LEAST, MOST = 0.5, 0.99
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
