"""One number of a second opinion, and what it takes to work it out without a fuss.

What comes in: what a method found. What goes out: a `Row`. It computes nothing of its own.
"""

from __future__ import annotations

import warnings
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from types import MappingProxyType
from typing import Final

from cohort.nonparametric.counts import ALL

LEAST: Final = 4
"""Foundings, or events, of each way below which a method is not tried."""
_NAN: Final = float("nan")


@dataclass(frozen=True)
class Row:
    """A number by one method.

    Parameters
    ----------
    method : str
        Key of `cohort.terms.opinions.IGNORES`.
    question, quantity, unit, arm : str
        As in ``comparisons.csv``, where the model gives the same number.
    genus : str
        ``all``, or a kind.
    queens, day : int or None
        Founding size and day of the model's number.
    estimate, low, high, p : float
        nan where the method has none.
    foundings : int
        Foundings behind it.
    variants : mapping
        The estimate by the method changed in one point, by the code of that point
        (`cohort.terms.opinions.DIFFERS`).
    why : str
        Key of `cohort.terms.opinions.UNDONE` where there is no estimate; else blank.
    """

    method: str
    question: str
    quantity: str
    unit: str
    arm: str
    genus: str = ALL
    queens: int | None = None
    day: int | None = None
    estimate: float = _NAN
    low: float = _NAN
    high: float = _NAN
    p: float = _NAN
    foundings: int = 0
    variants: Mapping[str, float] = field(default_factory=lambda: MappingProxyType({}))
    why: str = ""


class UndoneError(Exception):
    """Raised where a method has too little to go by, or does not settle; the text is the code."""


def tried(row: Row, fill: Callable[[Row], Row]) -> Row:
    """The row filled, or the row with the reason why it was not."""
    try:
        return fill(row)
    except UndoneError as reason:
        return replace(row, why=str(reason))


def fitted[T](fit: Callable[[], T]) -> T:
    """What a fit of lifelines returns, without its warnings.

    Raises
    ------
    UndoneError
        It did not converge, or said that it may not have.
    """
    import numpy as np
    from lifelines.exceptions import ConvergenceWarning, StatError

    with warnings.catch_warnings(record=True) as told:
        warnings.simplefilter("always")
        try:
            found = fit()
        except (ValueError, ArithmeticError, np.linalg.LinAlgError, StatError) as fault:
            raise UndoneError("no_fit") from fault
    if any(issubclass(one.category, ConvergenceWarning) for one in told):
        raise UndoneError("no_fit")
    return found
