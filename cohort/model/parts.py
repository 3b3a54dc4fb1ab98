"""What each founding lives by, under names, while a PyMC model is written.

Comes in: tensors by founding. Goes out: the same, or what somebody put in their place. Never: a
prior, a likelihood.

The names are those of a posterior, so that what moves ``first_worker`` moves what draws of
``first_worker`` speak of.
"""

from __future__ import annotations

from collections.abc import Iterator, MutableMapping
from types import MappingProxyType
from typing import Any, Final

import numpy as np
import pandas as pd
import pytensor.tensor as pt
from pytensor.graph.basic import Constant
from pytensor.graph.traversal import ancestors

from cohort.base.errors import StudyError
from cohort.likelihood.layout import N1, N2
from cohort.terms.near import did_you_mean

PARTS: Final = MappingProxyType(
    {
        "founding_hazard": "log daily hazard of a lone queen before workers, days 21-42",
        "together": "log ratio of that hazard while two or more live; 0 for single queens",
        "pace_before": f"log hazard of each of its {N1} pieces over that of days 21-42",
        "worker_hazard": "log daily hazard of a lone queen with workers, first ten days",
        "rivalry": "log ratio of that hazard while two or more live",
        "pace_after": f"log hazard of each of its {N2} pieces over that of the first ten days",
        "last_fight": "logit of the share of losses from two that take both",
        "first_worker": "mean log day of the first worker",
        "within_days": "SD of the log day of the first worker around that mean",
        "mated": "logit of the chance that a queen is mated whom nobody saw mating",
        "seen": "what a mating that was seen adds to that logit",
        "frailty": "standard normal of the founding",
        "frailty_sd": "SD of the frailty that the log hazards take from it",
        "loading": "weight of the frailty with workers; 1: as before them",
        "winter": "log hazard of a lone queen in winter rest over that of the level piece",
        "winter_company": "log ratio of that hazard while two or more live",
        "warm_threshold": "temperature above which a shelf with a log counts, degrees Celsius",
    }
)
"""Every part, and what it is."""
PIECES: Final = MappingProxyType({"pace_before": N1, "pace_after": N2})
"""Parts with a column for each piece of a hazard."""


class Parts(MutableMapping[str, Any]):
    """Parts of the predictor by name, each a tensor: a number for every founding, or one for all.

    ``pace_before`` and ``pace_after`` have a column for each piece besides, or are one row.

    Parameters
    ----------
    parts : dict
        A tensor for each of `PARTS`.
    foundings : DataFrame
        The compared foundings, in the order of the tensors, with the columns of the history.
    """

    __slots__ = ("_foundings", "_parts", "_touched")

    def __init__(self, parts: dict[str, Any], foundings: pd.DataFrame) -> None:
        self._parts, self._foundings = dict(parts), foundings
        self._touched: dict[str, Any] = {}

    @property
    def foundings(self) -> pd.DataFrame:
        """The compared foundings in the order of the tensors; a copy."""
        return self._foundings.copy()

    @property
    def touched(self) -> dict[str, Any]:
        """What stood there before, of every part that was assigned to."""
        return dict(self._touched)

    def __getitem__(self, name: str) -> Any:
        """A part by its name.

        Raises
        ------
        StudyError
            There is no such part.
        """
        if name not in self._parts:
            raise StudyError(_no_part(name))
        return self._parts[name]

    def __setitem__(self, name: str, value: Any) -> None:
        """Put another tensor in the place of a part.

        Raises
        ------
        StudyError
            There is no such part, or the tensor has the wrong shape or a number that is none.
        """
        old = self[name]
        new = pt.as_tensor_variable(value)
        _check_shape(name, new, len(self._foundings))
        _check_numbers(name, new)
        self._touched.setdefault(name, old)
        self._parts[name] = new

    def __delitem__(self, name: str) -> None:
        """Refused: every part is needed.

        Raises
        ------
        StudyError
        """
        raise StudyError(
            f"The part '{name}' cannot be taken away; put another tensor in its place."
        )

    def __iter__(self) -> Iterator[str]:
        """Names of the parts."""
        return iter(self._parts)

    def __len__(self) -> int:
        """How many there are."""
        return len(self._parts)


def _no_part(name: object) -> str:
    lines = "\n".join(f"  {part}: {meaning}" for part, meaning in PARTS.items())
    hint = did_you_mean(name, PARTS) if isinstance(name, str) else ""
    return f"The founding model has no part '{name}'. {hint}\nIts parts are\n{lines}"


def _check_shape(name: str, value: Any, foundings: int) -> None:
    wanted: tuple[int, ...] = (foundings,)
    if name in PIECES:
        wanted = (foundings, PIECES[name])
    shape, ok = value.type.shape, value.type.ndim in (0, 1)
    if name in PIECES:
        ok = value.type.ndim in (1, 2)
    known = zip(reversed(shape), reversed(wanted), strict=False)
    if not ok or any(have not in (None, want) for have, want in known):
        per = f"one number for each of the {foundings} compared foundings, or one for all"
        if name in PIECES:
            per = f"a row of {PIECES[name]} for each of the {foundings} compared foundings, or one"
        raise StudyError(
            f"The part '{name}' takes {per}; what was put there has shape "
            f"{tuple('?' if n is None else n for n in shape)}. The foundings stand in the order of "
            "parts.foundings."
        )


def _check_numbers(name: str, value: Any) -> None:
    for one in ancestors([value]):
        if isinstance(one, Constant) and isinstance(one.data, np.ndarray):
            data = one.data
            if data.dtype.kind == "f" and data.size and not np.isfinite(data).all():
                raise StudyError(
                    f"What was put at the part '{name}' holds a number that is none (nan or "
                    "infinite), a founding without a value perhaps. Say what stands for it (the "
                    "mean, for instance) or leave the founding out of the study."
                )
