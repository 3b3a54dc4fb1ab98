"""Many findings kept by column: what they share once, the rest as arrays.

What comes in: findings one by one, or rows of a table that a rule found at fault. What goes out:
`Found`, which reads like a tuple of findings. A million bad rows take a few bytes each: a finding
is made only when somebody asks for it, and thrown away after. It decides nothing.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import islice
from typing import Any, Final, overload

import numpy as np
import pandas as pd

from cohort.base.errors import LEVELS, Finding, Level

Texts = str | Sequence[str] | Callable[[int], str]
"""One text for all rows at fault, one for each, or a way to make the n-th when it is asked for."""

_SHARED: Final = ("level", "rule", "column")
_CHUNK: Final = 4096  # findings looked up at once while they are told one by one


@dataclass(frozen=True, slots=True)
class Block:
    """Rows of one table at fault by one rule.

    Parameters
    ----------
    level, rule, column : str
        As in `Finding`.
    where : dict of ndarray
        Whole columns ``file``, ``tab``, ``row`` and ``founding`` of the table; not copied.
    places : ndarray of int, shape (n,)
        Rows at fault, as places in these columns.
    what, remedy : str, sequence of str (n), or function of 0 ... n - 1
    """

    level: Level
    rule: str
    column: str
    where: dict[str, np.ndarray]
    places: np.ndarray
    what: Texts
    remedy: Texts

    def __len__(self) -> int:
        """Count the rows at fault."""
        return len(self.places)

    def values(self, name: str, of: np.ndarray) -> str | np.ndarray:
        """One field of the findings `of`: a text that all share, or an array."""
        if name in _SHARED:
            return str(getattr(self, name))
        column = self.where.get(name)
        return "" if column is None else np.asarray(column[self.places[of]])

    def texts(self, name: str, of: np.ndarray) -> str | Iterator[str]:
        """``what`` or ``remedy`` of the findings `of`: a text that all share, or one for each."""
        told: Texts = getattr(self, name)
        if isinstance(told, str):
            return told
        return map(told if callable(told) else told.__getitem__, of.tolist())


@dataclass(frozen=True, slots=True)
class Single:
    """Findings that were made one by one."""

    findings: tuple[Finding, ...]

    def __len__(self) -> int:
        """Count them."""
        return len(self.findings)

    def values(self, name: str, of: np.ndarray) -> str | np.ndarray:
        """One field of the findings `of`."""
        made = np.empty(len(of), dtype=np.int64 if name == "row" else object)
        made[:] = [getattr(self.findings[place], name) for place in of.tolist()]
        return made

    def texts(self, name: str, of: np.ndarray) -> str | Iterator[str]:
        """``what`` or ``remedy`` of the findings `of`."""
        return (getattr(self.findings[place], name) for place in of.tolist())


class Found(Sequence[Finding]):
    """Findings, in an order.

    Parameters
    ----------
    blocks : iterable of Block or Single
    order : ndarray of int64, shape (n,), optional
        Which findings, counted through all blocks; all of them one after another by default.
    """

    __slots__ = ("_blocks", "_order", "_starts")

    def __init__(
        self, blocks: Iterable[Block | Single] = (), order: np.ndarray | None = None
    ) -> None:
        self._blocks = tuple(block for block in blocks if len(block) or order is not None)
        self._starts = np.cumsum([0, *(len(block) for block in self._blocks)])
        self._order = order

    @classmethod
    def of(cls, findings: Iterable[Finding]) -> Found:
        """Findings of any kind as `Found`."""
        if isinstance(findings, Found):
            return findings
        return cls([Single(tuple(findings))])

    @classmethod
    def joined(cls, *parts: Iterable[Finding]) -> Found:
        """Findings of several parts, one after another."""
        made = [cls.of(part) for part in parts]
        if all(part._order is None for part in made):
            return cls([block for part in made for block in part._blocks])
        shifts = np.cumsum([0, *(part._starts[-1] for part in made)])
        order = [part.order + shift for part, shift in zip(made, shifts, strict=False)]
        return cls([block for part in made for block in part._blocks], np.concatenate(order))

    @property
    def order(self) -> np.ndarray:
        """Which findings, counted through all blocks (int64)."""
        return np.arange(self._starts[-1]) if self._order is None else self._order

    def take(self, places: np.ndarray) -> Found:
        """Those at some places, or where a mask is true, in that order."""
        return Found(self._blocks, self.order[places])

    def __len__(self) -> int:
        """Count the findings."""
        return int(self._starts[-1]) if self._order is None else len(self._order)

    @overload
    def __getitem__(self, at: int) -> Finding: ...

    @overload
    def __getitem__(self, at: slice) -> Found: ...

    def __getitem__(self, at: int | slice) -> Finding | Found:
        """One finding, or some."""
        if isinstance(at, slice):
            return self.take(np.arange(len(self))[at])
        return next(iter(self.take(np.array([range(len(self))[at]]))))

    def __iter__(self) -> Iterator[Finding]:
        """Make the findings one after another."""
        for start in range(0, len(self), _CHUNK):
            some = self if len(self) <= _CHUNK else self[start : start + _CHUNK]
            fields = [some.values(name).tolist() for name in (*_SHARED, "file", "tab", "founding")]
            rows = some.values("row").tolist()
            whats, remedies = some.texts("what"), some.texts("remedy")
            for level, rule, column, file, tab, founding, row, what, remedy in zip(
                *fields, rows, whats, remedies, strict=True
            ):
                yield Finding(
                    level=level,
                    rule=rule,
                    column=column,
                    file=file,
                    tab=tab,
                    founding=founding,
                    row=row,
                    what=what,
                    remedy=remedy,
                )

    def __add__(self, other: Iterable[Finding]) -> Found:
        """Put others after these."""
        return Found.joined(self, other)

    def __radd__(self, other: Iterable[Finding]) -> Found:
        """Put these after others."""
        return Found.joined(other, self)

    def __eq__(self, other: object) -> bool:
        """Whether the findings are the same, in the same order."""
        if not isinstance(other, Sequence):
            return NotImplemented
        return len(self) == len(other) and all(a == b for a, b in zip(self, other, strict=True))

    def __hash__(self) -> int:
        """Refuse: as a list it may be compared, and be no key."""
        raise TypeError("unhashable type: 'Found'")

    def __repr__(self) -> str:
        """Tell the first of them."""
        more = ", ..." if len(self) > 5 else ""
        return f"Found([{', '.join(map(repr, self[:5]))}{more}])"

    # --- a field of all of them -----------------------------------------------------------------

    def _parts(self) -> Iterator[tuple[Block | Single, np.ndarray, np.ndarray]]:
        """Blocks that have some: block, places among these findings, places in the block."""
        if self._order is None:
            for block, start in zip(self._blocks, self._starts, strict=False):
                yield block, np.arange(start, start + len(block)), np.arange(len(block))
            return
        home = np.searchsorted(self._starts, self._order, "right") - 1
        for at in np.unique(home).tolist():
            mine = np.flatnonzero(home == at)
            yield self._blocks[at], mine, self._order[mine] - self._starts[at]

    def values(self, name: str) -> np.ndarray:
        """Field ``level``, ``rule``, ``file``, ``tab``, ``row``, ``column`` or ``founding``.

        Returns
        -------
        ndarray, shape (n,)
            ``row`` int64, the others text.
        """
        made = np.empty(len(self), dtype=np.int64 if name == "row" else object)
        for block, mine, inside in self._parts():
            made[mine] = block.values(name, inside)
        return made

    def texts(self, name: str) -> Iterator[str]:
        """``what`` or ``remedy`` of each, made as they are asked for."""
        parts = list(self._parts())
        if len(parts) == 1:
            block, _, inside = parts[0]
            told = block.texts(name, inside)
            return iter([told] * len(inside)) if isinstance(told, str) else told
        made = np.empty(len(self), dtype=object)
        for block, mine, inside in parts:
            told = block.texts(name, inside)
            made[mine] = told if isinstance(told, str) else list(told)
        return iter(made.tolist())

    def different(self, name: str, most: int, *, among: int | None = None) -> tuple[str, ...]:
        """First texts of ``what`` or ``remedy`` that differ, in order; `most` of them.

        Only the first findings are looked at where `among` says how many.
        """
        parts = list(self._parts())
        if len(parts) == 1:
            told = parts[0][0].texts(name, parts[0][2])
            if isinstance(told, str):
                return (told,)
        seen: dict[str, None] = {}
        for text in islice(self.texts(name), among):
            seen[text] = None
            if len(seen) == most:
                break
        return tuple(seen)

    def codes(self, name: str) -> tuple[np.ndarray, list[str]]:
        """A text field as numbers, and the texts they stand for, in order of appearance."""
        made = np.empty(len(self), dtype=np.int64)
        known: dict[str, int] = {}
        for block, mine, inside in self._parts():
            told = block.values(name, inside)
            if isinstance(told, str):
                made[mine] = known.setdefault(told, len(known))
                continue
            codes, texts = pd.factorize(told)
            here = [known.setdefault(str(text), len(known)) for text in texts]
            made[mine] = np.array(here, dtype=np.int64)[codes]
        return made, list(known)

    def of_level(self, level: Level) -> Found:
        """Those of one level."""
        codes, texts = self.codes("level")
        return self.take(codes == texts.index(level)) if level in texts else Found()

    def in_order(self) -> Found:
        """Errors first, then warnings, then notes; each by file, tab, row and column."""
        keys = [self.values("row")]
        for name in ("level", "file", "tab", "column"):
            codes, texts = self.codes(name)
            ranks = {
                t: place for place, t in enumerate(LEVELS if name == "level" else sorted(texts))
            }
            keys.append(np.array([ranks[text] for text in texts], dtype=np.int64)[codes])
        row, level, file, tab, column = keys
        return self.take(np.lexsort((column, row, tab, file, level)))

    def without_repeats(self) -> Found:
        """Each finding once: a rule and the reader may tell the same."""
        marks: dict[str, Any] = {"row": self.values("row")}
        for name in (*_SHARED, "file", "tab", "founding"):
            marks[name] = self.codes(name)[0]
        like = pd.DataFrame(marks).duplicated(keep=False).to_numpy()
        if not like.any():
            return self
        keep = ~like
        seen: set[Finding] = set()
        places = np.flatnonzero(like)
        for place, finding in zip(places.tolist(), self.take(places), strict=True):
            if finding not in seen:
                seen.add(finding)
                keep[place] = True
        return self.take(keep)
