"""Close matches for a misspelt word.

What comes in: a word as typed and the words allowed. What goes out: the nearest one, or a
sentence that names it. It never replaces what was typed.
"""

from __future__ import annotations

import difflib
from collections.abc import Iterable

from cohort.terms.voice import SHARED, Said


def nearest(got: str, allowed: Iterable[str], *, cutoff: float = 0.7) -> str:
    """Nearest allowed word, upper and lower case alike; blank when none is near.

    Parameters
    ----------
    got : str
        As typed.
    allowed : iterable of str
        Words that would be right.
    cutoff : float
        Likeness from 0 to 1 (ratio of matching letters) that is needed.
    """
    by_low = {word.lower(): word for word in allowed}
    near = difflib.get_close_matches(str(got).strip().lower(), list(by_low), n=1, cutoff=cutoff)
    return by_low[near[0]] if near else ""


def did_you_mean(got: str, allowed: Iterable[str], *, cutoff: float = 0.7) -> str:
    """Sentence ``Did you mean 'Lasius'?``; blank when no allowed word is near."""
    near = nearest(got, allowed, cutoff=cutoff)
    return Said(SHARED, "did_you_mean", near=near) if near else ""
