"""A letter for each keeper that says what to correct.

What comes in: findings, the foundings they belong to and a language. What goes out: plain text, one
letter a keeper. It writes no file; what belongs to no keeper goes into a letter to the club.
"""

from __future__ import annotations

import datetime as dt
import re
import textwrap
from collections.abc import Mapping, Sequence
from types import MappingProxyType

import numpy as np
import pandas as pd

from cohort.audit.ids import of_file
from cohort.audit.show import counted, lines, speaks
from cohort.base.errors import LEVELS, Finding, printable
from cohort.sheets.found import Found
from cohort.terms.voice import ENGLISH

_WIDE = 76  # signs of a line
CLUB = ""  # the keeper to whom findings of no keeper go


def letters(
    findings: Sequence[Finding],
    foundings: pd.DataFrame,
    title: str,
    today: dt.date,
    language: str = ENGLISH,
    handed: Mapping[str, str] = MappingProxyType({}),
) -> dict[str, str]:
    """Text of a letter for each keeper with at least one finding.

    Parameters
    ----------
    findings : sequence of Finding
    foundings : DataFrame
        Columns founding, keeper, file.
    title : str
        Title of the study.
    today : date
        Date of the letter.
    language : str
        Two-letter code.
    handed : mapping
        Foundings that were handed over -> sign of whom they are now.

    Returns
    -------
    dict
        Keeper -> letter; the key ``""`` is the club's.
    """
    found = Found.of(findings)
    whose = _whose(found, foundings, handed)
    signs = sorted(set(whose.tolist()))
    return {
        sign: _letter(sign, found.take(whose == sign), title, today, language) for sign in signs
    }


def _whose(found: Found, foundings: pd.DataFrame, handed: Mapping[str, str]) -> np.ndarray:
    """Keeper of each finding: of its founding, else of its file."""
    signs = {str(sign).lower(): sign for sign in foundings["keeper"]}
    keeper_of = dict(zip(foundings["founding"], foundings["keeper"], strict=True))
    keeper_of |= {number: signs.get(to.lower(), to) for number, to in handed.items()}
    owners, names = found.codes("founding")
    files, paths = found.codes("file")
    own = np.array([keeper_of.get(name, "") for name in names], dtype=object)[owners]
    rest = np.unique(files[own == ""]).tolist()
    by_file = np.full(len(paths), CLUB, dtype=object)
    by_file[rest] = [_only_keeper(paths[place], foundings) for place in rest]
    return np.asarray(np.where(own == "", by_file[files], own)) if len(found) else own


def _only_keeper(file: str, foundings: pd.DataFrame) -> str:
    """Keeper of a file all of whose foundings are one keeper's; blank when it does not tell."""
    mine = of_file(file, foundings) if len(foundings) else None
    if mine is None:
        return CLUB
    keepers = set(foundings["keeper"][mine])
    return keepers.pop() if len(keepers) == 1 else CLUB


def _letter(keeper: str, findings: Found, title: str, today: dt.date, language: str) -> str:
    say = speaks(language).say
    study = say("letter_study", title=title) if title else say("letter_our_study")
    opening = say("letter_opening", study=study, counted=counted(findings, language))
    text = [
        say("letter_keeper", sign=keeper) if keeper else say("letter_club"),
        str(today) if language == ENGLISH else speaks(language).write(today),
        "",
        *(line for told in (opening, say("letter_rows")) for line in textwrap.wrap(told, _WIDE)),
    ]
    for level in LEVELS:
        mine = findings.of_level(level)
        if len(mine):
            text += ["", say(f"letter_{level}"), ""]
            text += lines(mine, width=_WIDE, language=language)
    closing = [say(f"letter_{name}") for name in ("change", "blank", "thanks")]
    text += ["", *(line for told in closing for line in textwrap.wrap(told, _WIDE))]
    return printable("\n".join(text) + "\n")


def file_name(keeper: str) -> str:
    """Name of a letter's file: ``letter-K2.txt``."""
    plain = re.sub(r"[^\w.-]+", "_", keeper).strip("._") or "club"
    return f"letter-{plain}.txt"
