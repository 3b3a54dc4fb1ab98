"""What the readers of sheets say, as keys of the catalogues of this room with their values.

What comes in: nothing. What goes out: `tell`. It holds no sentence itself.
"""

from __future__ import annotations

from functools import partial
from typing import Final

from cohort.terms.voice import SHARED, Said

tell: Final = partial(Said, "cohort.sheets")
"""A sentence of this room, to be said in any language: ``tell(key, blank=value, ...)``."""

NOTHING: Final = Said(SHARED, "nothing_to_do")
"""Remedy of what is only told."""
