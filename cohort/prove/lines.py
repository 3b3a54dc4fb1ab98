"""One number of a proof, and a part of it: what was found and where it had to lie.

Comes in: numbers. Goes out: frozen values. Never: a sentence, a computation.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from cohort.terms.voice import Told


@dataclass(frozen=True)
class Line:
    """One number.

    Attributes
    ----------
    what : Told
        What it is.
    found : float
    low, high : float
        Where it has to lie, ends included; infinite where it has no end.
    places : int
        Decimals it is printed with.
    wanted : float
        What it should be, in the middle of where it has to lie; nan where no number is wanted.
    """

    what: Told
    found: float
    low: float
    high: float
    places: int = 3
    wanted: float = math.nan

    @property
    def holds(self) -> bool:
        """Whether it lies there; a number that is none does not."""
        return math.isfinite(self.found) and self.low <= self.found <= self.high


def near(what: Told, found: float, wanted: float, within: float, places: int = 3) -> Line:
    """A number that has to lie near another."""
    return Line(what, found, wanted - within, wanted + within, places, wanted)


@dataclass(frozen=True)
class Part:
    """One part of a proof.

    Attributes
    ----------
    name : str
        Key of its sentences.
    lines : tuple of Line
        Empty where it broke off.
    seed : int or None
        None where nothing is drawn.
    seconds : float
        How long it took.
    broke_off : str
        Why; blank where it did not.
    """

    name: str
    lines: tuple[Line, ...]
    seed: int | None = None
    seconds: float = 0.0
    broke_off: str = ""

    @property
    def holds(self) -> bool:
        """Whether it came to its end and every number lies where it has to."""
        return not self.broke_off and bool(self.lines) and all(one.holds for one in self.lines)

    def astray(self) -> Iterator[Line]:
        """Lines that do not hold."""
        return (one for one in self.lines if not one.holds)

    def as_dict(self, said: dict[int, str]) -> dict[str, Any]:
        """As plain values; ``said`` has the text of each line by its place."""
        return {
            "part": self.name,
            "holds": self.holds,
            "seed": self.seed,
            "seconds": round(self.seconds, 1),
            "broke_off": self.broke_off,
            "numbers": [
                {
                    "what": said[i],
                    "found": one.found if math.isfinite(one.found) else None,
                    "low": one.low if math.isfinite(one.low) else None,
                    "high": one.high if math.isfinite(one.high) else None,
                    "holds": one.holds,
                }
                for i, one in enumerate(self.lines)
            ],
        }
