"""The section "A second opinion" of the page of details.

In comes the table ``second_opinion.csv``; out come printed tables and short clauses: the same
questions by other methods, the model's number beside each, what the method leaves out and, where
the two differ, why. Never works anything out anew.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import pandas as pd

from cohort.figures.material import Material, each
from cohort.newsletter.speech import Voice
from cohort.newsletter.tables import Table, printed
from cohort.nonparametric.counts import ALL

CODE = re.compile(r"(?:^|; )([a-z_]+): ")


@dataclass(frozen=True)
class Second:
    """What the section says.

    Parameters
    ----------
    intro : tuple of str
        Sentences before the table.
    whole : Table
        Of all kinds together.
    kinds : Table or None
        Kind by kind; None where no kind has enough foundings of its own.
    ignores : tuple of str
        What each method leaves out.
    differs : tuple of str
        Why numbers differ from the model's, and which.
    """

    intro: tuple[str, ...]
    whole: Table
    kinds: Table | None
    ignores: tuple[str, ...]
    differs: tuple[str, ...]


def section(material: Material, voice: Voice) -> Second | None:
    """The section, or None where no method had enough to go by."""
    rows = material.results.second_opinion
    if rows["estimate"].isna().all():
        return None
    names = material.history.foundings
    named = {str(g): bool(n) for g, n in zip(names["genus"], names["named"], strict=True)}

    def kind(genus: str) -> str:
        return voice.kind(genus, named.get(genus, False))

    of_all = rows["genus"] == ALL
    keys = ["o_intro", "o_fair"] + ([] if material.settled else ["o_no_model"])
    keys += ["o_winter"] if material.history.winters else []
    own = rows[~of_all]
    return Second(
        intro=tuple(voice.say(key) for key in keys),
        whole=_table(rows[of_all], voice, kind, ""),
        kinds=_table(own, voice, kind, voice.say("o_kinds")) if len(own) else None,
        ignores=tuple(_ignores(voice, str(m)) for m in rows["method"].unique()),
        differs=tuple(_differs(rows, voice, kind)),
    )


def codes(told: str) -> list[str]:
    """The codes of a cell such as ``prior: a clause; size: another``."""
    return CODE.findall(told)


def _method(voice: Voice, method: str) -> str:
    return voice.say(f"o_method_{method}")


def _ignores(voice: Voice, method: str) -> str:
    return voice.say("o_line", head=_method(voice, method), told=voice.say(f"o_ignores_{method}"))


def _what(row: Any, voice: Voice) -> str:
    what = voice.say(f"q_{row.quantity}")
    way = voice.say(f"way_{row.arm}")
    return what if way in what else voice.say("o_what", what=what, way=way)


def _differs(rows: pd.DataFrame, voice: Voice, kind: Callable[[str], str]) -> list[str]:
    """Each reason once, and where it holds."""
    where: dict[str, dict[str, list[str]]] = {}
    for row in each(rows[rows["differs"] != ""]):
        head = f"{_method(voice, str(row.method))}, {_what(row, voice)}"
        for code in codes(str(row.differs)):
            kinds = where.setdefault(code, {}).setdefault(head, [])
            kinds += [] if row.genus == ALL else [kind(str(row.genus))]
    return [
        voice.say(
            "o_where",
            told=voice.cap(voice.say(f"o_differs_{code}")),
            where=voice.strung(
                voice.say("o_of_kinds", what=what, kinds=voice.listing(kinds)) if kinds else what
                for what, kinds in places.items()
            ),
        )
        for code, places in where.items()
    ]


def _table(rows: pd.DataFrame, voice: Voice, kind: Callable[[str], str], title: str) -> Table:
    single = rows["genus"].eq(ALL).all()
    heads = ["o_head_method", *([] if single else ["t_kind"]), "t_quantity", "t_day",
             "o_head_number", "o_head_chance", "o_head_model", "t_foundings"]  # fmt: skip
    return Table(
        tuple(voice.say(head) for head in heads),
        tuple(_cells(row, voice, None if single else kind) for row in each(rows)),
        title,
    )


def _cells(row: Any, voice: Voice, kind: Callable[[str], str] | None) -> tuple[str, ...]:
    write = printed(str(row.unit), voice)
    told = _range(write, voice, row.estimate, row.low, row.high)
    if row.why:
        told = voice.strung(voice.say(f"o_why_{code}") for code in codes(str(row.why)))
    return (
        _method(voice, str(row.method)),
        *([kind(str(row.genus))] if kind else []),
        _what(row, voice),
        "–" if pd.isna(row.day) else voice.write(int(row.day)),
        told,
        "–" if pd.isna(row.p) else voice.chance(float(row.p)),
        _range(write, voice, row.model, row.model_low, row.model_high),
        voice.write(int(row.foundings)),
    )


def _range(
    write: Callable[[float], str], voice: Voice, mean: float, low: float, high: float
) -> str:
    if pd.isna(mean):
        return "–"
    if pd.isna(low) or pd.isna(high):
        return write(mean)
    return voice.say("t_range", mean=write(mean), low=write(low), high=write(high))
