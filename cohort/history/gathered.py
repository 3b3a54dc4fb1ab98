"""Many kinds: those with the fewest foundings are taken as one, so that work and pages stay small.

Comes in: a `History`. Goes out: a `History` with at most `MOST_KINDS` kinds, and a note. Never: a
founding lost or a sheet altered: what its keeper called it stays in the sheets.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Final

from cohort.history.record import History
from cohort.terms.questions import OTHERS

MOST_KINDS: Final = 30
"""Kinds that are compared by themselves at most. Work grows with the square of their number, and
kinds of one or two foundings each have next to nothing of their own to say."""


def gathered(history: History, most: int = MOST_KINDS) -> tuple[History, str]:
    """The history with its rarest kinds as one kind, where there are more than ``most``.

    Parameters
    ----------
    history : History
    most : int
        Kinds to be left, the one of all others included.

    Returns
    -------
    History and str
        The same history and a blank note where there are no more kinds than that. Kinds with the
        most foundings in the comparison stay; of kinds with as many, the first by name.
    """
    frame = history.foundings
    counts = frame["compared"].groupby(frame["genus"].astype(str)).sum()
    counts = counts[counts > 0]  # who stands outside the comparison takes nobody's place
    if len(counts) <= most:
        return history, ""
    order = counts.sort_index().sort_values(ascending=False, kind="stable").index
    rare = set(order[most - 1 :])
    mine = frame["genus"].astype(str).isin(rare)
    inside = int((mine & frame["compared"]).sum())
    note = (
        f"{len(rare)} kinds with the fewest foundings, {inside} in all, are compared as one kind, "
        f"'{OTHERS}': more than {most} kinds are not told apart."
    )
    foundings = frame.assign(
        genus=frame["genus"].astype(object).mask(mine, OTHERS), named=frame["named"] & ~mine
    )
    return replace(history, foundings=foundings), note
