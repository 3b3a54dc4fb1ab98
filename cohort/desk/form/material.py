"""What a form needs of a study: the open foundings of a keeper, each with its last look.

Comes in: a `Study`. Goes out: frozen `FormMaterial`. Nothing a keeper wrote in a note goes in.
"""

from __future__ import annotations

import hashlib
import re
from collections.abc import Hashable, Iterable
from dataclasses import dataclass
from typing import Any

import pandas as pd

from cohort.desk.print.open import last_count, still_open
from cohort.sheets.numbers import keeper_of
from cohort.study import Study
from cohort.study.keepers import keepers_now

_IN_A_NOTE = re.compile(r"\w([\w-]*\w)?")  # one word, as `cohort.sheets.note_words` reads it


@dataclass(frozen=True)
class FormFounding:
    """A founding as the form shows it.

    Attributes
    ----------
    number : str
    kind : str
        Genus, or the keeper's own word for a kind that has no name yet.
    named : bool
        Whether the kind is a genus.
    queens, workers : str
        As last counted, such as ``3`` or ``12+``; queens at the start where none were counted
        since, workers blank where nobody looked for them.
    looked : str
        Day of the last look, ISO; blank without one.
    """

    number: str
    kind: str
    named: bool
    queens: str
    workers: str
    looked: str


@dataclass(frozen=True)
class FormMaterial:
    """One keeper's form.

    Attributes
    ----------
    study : str
        Title and season, as shown.
    key : str
        Under which the phone keeps the entries: another study or keeper has another.
    keeper : str
        Blank in a study without keepers' signs.
    foundings : tuple of FormFounding
    others : tuple of str
        Signs of the other keepers, to whom a founding may be handed over: those that a check note
        can name.
    """

    study: str
    key: str
    keeper: str
    foundings: tuple[FormFounding, ...]
    others: tuple[str, ...] = ()


def form_material(study: Study, keeper: str, keepers: Iterable[str] = ()) -> FormMaterial:
    """The open foundings of a keeper.

    Parameters
    ----------
    study : Study
    keeper : str
        All foundings when blank.
    keepers : iterable of str
        Keepers beside those of the foundings, such as one who has none yet.
    """
    title, season = str(study.settings.title or ""), str(study.settings.season or "")
    shown = ", ".join(part for part in (title, season) if part)
    looks = {str(name): rows for name, rows in study.checks.groupby("founding", sort=False)}
    return FormMaterial(
        study=shown,
        key=hashlib.sha256(f"{title}\n{season}\n{keeper}".encode()).hexdigest()[:16],
        keeper=keeper,
        foundings=tuple(
            _founding(row, looks.get(str(row["founding"])))
            for row in still_open(study, keeper).to_dict("records")
        ),
        others=_others(study, keeper, keepers) if keeper else (),
    )


def _others(study: Study, keeper: str, keepers: Iterable[str]) -> tuple[str, ...]:
    pairs = zip(study.foundings["keeper"], study.foundings["founding"], strict=True)
    signs = {*keepers, *keepers_now(study), *(sign or keeper_of(name) for sign, name in pairs)}
    others = {sign for sign in map(str, signs) if sign.lower() != keeper.lower()}
    return tuple(sorted(sign for sign in others if _IN_A_NOTE.fullmatch(sign)))


def _founding(row: dict[Hashable, Any], looks: pd.DataFrame | None) -> FormFounding:
    seen = looks is not None and len(looks) > 0
    queens = last_count(looks, "queens_alive") if looks is not None else ""
    return FormFounding(
        number=str(row["founding"]),
        kind=str(row["genus"]),
        named=bool(row["named"]),
        queens=queens or str(row["queens"]),
        workers=last_count(looks, "workers") if looks is not None else "",
        looked=_day(looks["date"].iloc[-1]) if looks is not None and seen else "",
    )


def _day(value: object) -> str:
    return pd.Timestamp(str(value)).date().isoformat()
