"""Frozen objects that hold frames: what they hand out is a copy, and two of them can be compared.

Comes in: a frozen dataclass and the names of its frames. Goes out: the class, whose frames can be
changed by nobody who was given one. Never: a column's meaning (see `cohort.terms.described`).
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import fields, is_dataclass
from typing import Any, Never, cast

import numpy as np
import pandas as pd

type Attributes = Mapping[str, Mapping[str, str]]
"""What goes into ``frame.attrs``: by subject (units, meanings) a text for each column."""


class Fixed(dict[str, str]):
    """Texts by name that nobody changes, so that all copies of a frame may share them.

    pandas copies ``attrs`` at every step; a plain dictionary would be copied text by text.
    """

    def __deepcopy__(self, memo: object) -> Fixed:
        return self

    def __copy__(self) -> Fixed:
        return self

    def __reduce__(self) -> tuple[type[Fixed], tuple[dict[str, str]]]:
        return Fixed, (dict(self),)

    def _refused(self, *_: object, **__: object) -> Never:
        raise TypeError("Units and meanings are fixed; take a copy with dict(...) to change them.")

    __setitem__ = __delitem__ = update = pop = popitem = clear = setdefault = _refused
    __ior__ = _refused


class _Copied:
    """Descriptor of a frame that is handed out as a copy."""

    def __init__(self, name: str, about: Callable[[], Attributes] | None) -> None:
        self.name, self.about = name, about
        about_columns = ", with units and meanings of its columns in ``attrs``" if about else ""
        self.__doc__ = f"The frame, handed out as a copy{about_columns}."

    def __get__(self, owner: object | None, kind: type) -> Any:
        if owner is None:
            return self
        made = vars(owner)[self.name].copy()
        if self.about is not None:
            made.attrs = dict(self.about())
        return made

    def __set__(self, owner: object, frame: pd.DataFrame) -> None:
        vars(owner)[self.name] = frame


def hands_out_copies[T](
    **frames: Callable[[], Attributes] | None,
) -> Callable[[type[T]], type[T]]:
    """Make a frozen dataclass hand out copies of its frames, and compare by what it holds.

    Parameters
    ----------
    **frames : callable or None
        By name of the field what makes the frame's ``attrs``.
    """

    def changed(kind: type[T]) -> type[T]:
        for name, about in frames.items():
            setattr(kind, name, _Copied(name, about))
        return compared_by_content(kind)

    return changed


def compared_by_content[T](kind: type[T]) -> type[T]:
    """Make a dataclass that holds frames or arrays comparable with ``==``."""
    kind.__eq__ = _equal  # type: ignore[method-assign]  # a decorator puts it there
    return kind


def held(owner: object, name: str) -> pd.DataFrame:
    """The very frame an object holds, for our own code that only reads it: no copy is made."""
    return cast(pd.DataFrame, vars(owner)[name])


def _equal(one: Any, other: Any) -> Any:
    if type(one) is not type(other):
        return NotImplemented
    return one is other or all(
        alike(vars(one).get(f.name), vars(other).get(f.name)) for f in fields(one)
    )


def alike(one: Any, other: Any) -> bool:
    """Whether two values are the same, blanks and not-a-numbers too."""
    if one is other:
        return True
    if isinstance(one, np.ndarray) or isinstance(other, np.ndarray):
        return _same_arrays(one, other)
    if isinstance(one, Mapping) and isinstance(other, Mapping):
        return one.keys() == other.keys() and all(alike(one[key], other[key]) for key in one)
    if hasattr(one, "equals"):  # frames of pandas, data sets and trees of xarray
        return type(one) is type(other) and bool(one.equals(other))
    if isinstance(one, tuple | list) and type(one) is type(other):
        return len(one) == len(other) and all(map(alike, one, other))
    if is_dataclass(one) and type(one) is type(other):
        return bool(_equal(one, other))
    return bool(one == other) or (one != one and other != other)


def _same_arrays(one: Any, other: Any) -> bool:
    if not (isinstance(one, np.ndarray) and isinstance(other, np.ndarray)):
        return False
    return one.dtype == other.dtype and np.array_equal(one, other, equal_nan=one.dtype.kind == "f")
