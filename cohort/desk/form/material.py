"""What a form needs of a study: the open foundings of a keeper, each with its last look.

Comes in: a `Study`. Goes out: frozen `FormMaterial`. Nothing a keeper wrote in a note goes in.
"""

from __future__ import annotations

import hashlib
from collections.abc import Hashable
from dataclasses import dataclass
from typing import Any

import pandas as pd

from cohort.desk.print.open import last_count, still_open
from cohort.study import Study


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
    """

    study: str
    key: str
    keeper: str
    foundings: tuple[FormFounding, ...]


def form_material(study: Study, keeper: str) -> FormMaterial:
    """The open foundings of a keeper.

    Parameters
    ----------
    study : Study
    keeper : str
        All foundings when blank.
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
    )


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
