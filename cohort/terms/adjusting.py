"""What a comparison is adjusted for, and which parts of the model each difference may move.

Comes in: the setting `adjust`, as typed. Goes out: a frozen `Adjust`, or what is wrong with the
text. Never: data.

In a cell: ``feeding, housing``, which then may move survival before and with workers; or part by
part, ``before: feeding, housing; first worker: housing``. In `study.toml` also
``adjust = {before = ["feeding", "housing"], first_worker = ["housing"]}``.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Final

from cohort.base.errors import StudyError
from cohort.terms.levels import AFTER, BEFORE, FIRST_WORKER, PARTS
from cohort.terms.near import did_you_mean

WARMTH: Final = "shelf_temperature"
"""Moves the first worker too where no part is named: warmth does that in every ant known."""
SEEN: Final = "mating_seen"
"""Tells of being mated in every comparison, so that it cannot be adjusted for there again."""


def _part(name: object) -> str:
    if name not in PARTS:
        raise StudyError(
            f"adjust: '{name}' is no part of what is compared; those are {', '.join(PARTS)}. "
            f"{did_you_mean(str(name), PARTS)}".rstrip()
        )
    return str(name)


def _listed(names: Iterable[str]) -> tuple[str, ...]:
    listed = (names,) if isinstance(names, str) or not isinstance(names, Iterable) else tuple(names)
    for name in listed:
        if not isinstance(name, str):
            raise StudyError(f"adjust: {name!r} is no name of a column, such as 'housing'.")
    return listed


@dataclass(frozen=True)
class Adjust:
    """Differences that a comparison allows for, by the part of the model they may move.

    Attributes
    ----------
    before, after : tuple of str
        Columns that may move the survival of queens before and with workers.
    first_worker : tuple of str
        Columns that may move the day of the first worker.
    mated : tuple of str
        Columns that may move the share of mated queens.
    """

    before: tuple[str, ...] = ()
    after: tuple[str, ...] = ()
    first_worker: tuple[str, ...] = ()
    mated: tuple[str, ...] = ()

    @classmethod
    def of(cls, given: Adjust | Iterable[str]) -> Adjust:
        """What to adjust for, of a column, a plain list of them, or lists behind their parts.

        Raises
        ------
        StudyError
            A part that is none.
        """
        if isinstance(given, Adjust):
            return given
        if isinstance(given, Mapping):
            return cls(**{_part(part): _listed(names) for part, names in given.items()})
        names = _listed(given)
        return cls(before=names, after=names, first_worker=tuple(n for n in names if n == WARMTH))

    def moving(self, part: str) -> tuple[str, ...]:
        """Columns that may move a part."""
        return tuple(getattr(self, part))

    @property
    def names(self) -> tuple[str, ...]:
        """Every column, each once."""
        return tuple(dict.fromkeys(name for part in PARTS for name in self.moving(part)))

    def within(self, other: Adjust) -> Adjust:
        """What both adjust for, part by part."""
        return Adjust(
            *(
                tuple(name for name in self.moving(part) if name in other.moving(part))
                for part in PARTS
            )
        )

    def said(self) -> str:
        """As it is written in a cell; the short way where that says the same."""
        if self == Adjust.of(self.before):
            return ", ".join(self.before)
        parts = {part.replace("_", " "): self.moving(part) for part in PARTS}
        return "; ".join(f"{part}: {', '.join(names)}" for part, names in parts.items() if names)

    @classmethod
    def read(cls, text: str) -> Adjust:
        """What `said` wrote, columns of one's own among it."""
        if ":" not in text:
            return cls.of(_split(text, ","))
        parts = [piece.partition(":") for piece in _split(text, ";")]
        return cls.of({part.strip().replace(" ", "_"): _split(r, ",") for part, _, r in parts})


def _split(text: str, sign: str) -> list[str]:
    return [piece.strip() for piece in text.split(sign) if piece.strip()]


__all__ = ["AFTER", "BEFORE", "FIRST_WORKER", "SEEN", "WARMTH", "Adjust"]
