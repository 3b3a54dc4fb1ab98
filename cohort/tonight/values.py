"""What to do tonight, as plain values for a program.

Comes in: a `Tonight` and the language. Goes out: a dict that can be written as JSON. Never: print.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from cohort.desk.allot import Lot
from cohort.plan import words as plan_words
from cohort.plan.phrases import speaks as plan_speaks
from cohort.published import found, sources
from cohort.published.words import speaks as published_speaks
from cohort.sheets.cautions import line_in
from cohort.terms.voice import Voice, in_language
from cohort.tonight.night import Tonight
from cohort.tonight.words import advice_lines, cautions


def as_json(
    what: Tonight, own: Voice, lots: Sequence[Lot] | None = None, seed: int | None = None
) -> dict[str, Any]:
    """Everything of a night, as plain values; sentences in a language.

    Returns
    -------
    dict
        ``cautions`` (law first), ``kind``, ``genus``, ``species``, ``queens``, ``set_aside`` (list
        of ``queens``, ``reason``), ``to_divide``, ``refused`` (why no lots are drawn for this
        kind; null where they may be), ``divide`` (queens of each container, largest first),
        ``why`` (what that goes by, a word of `cohort.tonight.night.Why`), ``says`` (the advice in
        sentences), ``published`` (``of``, ``lean``, ``found``, ``papers``), ``plan`` (as of
        `cohort plan --json`; null where there is nothing to divide), ``lot`` (``seed`` and
        ``containers``, each with the places of its queens in the row; null where none is drawn).
    """
    speaker = published_speaks(own.language)
    drawn = None
    if lots is not None:
        drawn = {"seed": seed, "containers": [list(lot.which) for lot in lots]}
    return {
        "cautions": [line_in(own, "plan"), *cautions(what, own)],
        "kind": what.word,
        "genus": what.genus,
        "species": what.species,
        "queens": what.queens,
        "set_aside": [{"queens": one.queens, "reason": one.reason} for one in what.aside],
        "to_divide": what.left,
        "refused": in_language(what.refused, own.language) or None,
        "divide": [] if what.refused else list(what.parts),
        "why": what.why,
        "says": [line for line in advice_lines(what, own)[2:] if line],
        "published": {
            "of": what.published.of,
            "lean": what.published.lean,
            "found": list(found(what.published, speaker)),
            "papers": [
                in_language(paper, own.language) for paper in sources(what.published, speaker)
            ],
        },
        "plan": plan_words.as_json(what.plan, plan_speaks(own.language)) if what.plan else None,
        "lot": drawn,
    }
