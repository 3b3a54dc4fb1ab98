"""Which founding a row speaks of.

What comes in: ids as typed and the table of foundings. What goes out: the place of each founding
in that table, hints for ids that are not there, and the foundings that a file speaks of when a
row says `rest` or `all`. Nothing is matched that is not spelled the same.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from functools import lru_cache
from pathlib import PurePath

import numpy as np
import pandas as pd

from cohort.audit.find import at, tell
from cohort.audit.runs import day_numbers
from cohort.sheets.found import Found
from cohort.sheets.numbers import keeper_of, near_number
from cohort.sheets.raw import tag_of
from cohort.terms import SHEET_NAMES, words

UNKNOWN, REST, ALL, BLANK, SHELF = -1, -2, -3, -4, -5
_HINTS = 200  # close matches are looked up for so many different ids; the search is slow


def codes(ids: pd.Series, foundings: pd.DataFrame) -> np.ndarray:
    """Place of each id in `foundings` (first of its name), or UNKNOWN, REST, ALL, BLANK.

    Parameters
    ----------
    ids : Series of str, shape (n,)
    foundings : DataFrame
        With the column founding.

    Returns
    -------
    ndarray of int32, shape (n,)
    """
    known = {
        name: place for place, name in reversed(list(enumerate(foundings["founding"]))) if name
    }
    spoken = {words.REST: REST, words.ALL: ALL, "": BLANK}
    at_, texts = pd.factorize(ids.to_numpy())
    places = [known.get(text, spoken.get(str(text).lower(), UNKNOWN)) for text in texts.tolist()]
    return np.take(np.array([*places, 0], dtype=np.int32), at_)


def with_shelves(code: np.ndarray, named: pd.Series, foundings: pd.DataFrame) -> np.ndarray:
    """The codes of `codes`, SHELF where what is no founding is a shelf of `foundings`.

    Parameters
    ----------
    code : ndarray of int, shape (n,)
    named : Series of str, shape (n,)
        The ids as typed.
    foundings : DataFrame
        With the column shelf.
    """
    shelves = set(foundings["shelf"]) - {""}
    there = (code == UNKNOWN) & named.isin(shelves).to_numpy(dtype=bool)
    return np.where(there, SHELF, code).astype(code.dtype)


def nearest(some: np.ndarray, known: Iterable[str]) -> Callable[[str], str]:
    """Look up the number that was meant, when it is asked for; blank where it cannot be told.

    Parameters
    ----------
    some : ndarray of str
        Ids that are not there; only the first of them that differ are looked up.
    known : iterable of str
        Numbers of the study.
    """
    names = list(known)
    few = set(pd.unique(some)[:_HINTS].tolist())
    return lru_cache(maxsize=None)(lambda got: near_number(got, names) if got in few else "")


def unknown_ids(table: pd.DataFrame, at_: np.ndarray, foundings: pd.DataFrame) -> Found:
    """Errors for rows whose founding is not in `foundings`, with a close match.

    Parameters
    ----------
    table : DataFrame
        Checks or events.
    at_ : ndarray of int or bool
        Rows at fault.
    """
    some = table["founding"].to_numpy()[at_]
    known = [name for name in foundings["founding"].unique() if name]
    near = nearest(some, known)
    return at(
        table,
        at_,
        level="error",
        rule="id-unknown",
        column="founding",
        what=lambda n: tell("id_unknown", founding=some[n]),
        remedy=lambda n: (
            tell("id_unknown_do_near", near=meant, founding=some[n])
            if (meant := near(some[n]))
            else tell("id_unknown_do", founding=some[n])
        ),
    )


def _tag(file: str) -> str:
    return tag_of(PurePath(file).stem, SHEET_NAMES).lower()


def _speaks_of(tag: str, owner: str) -> bool:
    """Whether a file's tag (``k2-july``) begins with an owner's (``k2``)."""
    owner = owner.lower()
    if tag == owner:
        return True
    return bool(owner) and tag.startswith(owner) and not tag[len(owner)].isalnum()


def keepers(foundings: pd.DataFrame) -> np.ndarray:
    """Keeper of each founding: the column, else the sign that number and file name agree on.

    Parameters
    ----------
    foundings : DataFrame
        Columns founding, keeper, file.

    Returns
    -------
    ndarray of str, shape (len(foundings),)
        ``K2`` for a blank cell beside ``K2-07`` in ``foundings-K2.csv``; blank where they do not
        tell the same.
    """
    tags = {file: _tag(file) for file in foundings["file"].unique()}
    made = [
        name or (sign if (sign := keeper_of(number)) and _speaks_of(tags[file], sign) else "")
        for name, number, file in zip(
            foundings["keeper"], foundings["founding"], foundings["file"], strict=True
        )
    ]
    out = np.empty(len(made), dtype=object)
    out[:] = made
    return out


def of_file(file: str, foundings: pd.DataFrame) -> np.ndarray | None:
    """Foundings that `rest` and `all` stand for in a file.

    Those in the same workbook; else those of the foundings file with the same tag
    (``checks-K2.txt`` and ``foundings-K2.csv``); else those of the keeper so called; else all,
    when one foundings file of one keeper is all there is.

    Returns
    -------
    ndarray of bool, shape (len(foundings),), or None
        None when the file does not tell.
    """
    files = foundings["file"].to_numpy()
    if file in files:
        return np.asarray(files == file)
    tag = _tag(file)
    owners = [name for name in pd.unique(files) if _speaks_of(tag, _tag(name))]
    if owners:
        longest = max(len(_tag(name)) for name in owners)
        return np.isin(files, [name for name in owners if len(_tag(name)) == longest])
    keepers = foundings["keeper"].to_numpy()
    signs = np.array(
        [
            name or keeper_of(number)
            for name, number in zip(keepers, foundings["founding"], strict=True)
        ],
        dtype=object,
    )
    mine = [name for name in pd.unique(signs) if name and _speaks_of(tag, name)]
    if mine:
        return np.isin(signs, mine)
    if len(pd.unique(files)) == 1 and len(set(keepers) - {""}) <= 1:
        return np.ones(len(foundings), dtype=bool)
    return None


def handed_on(
    file: str, scope: np.ndarray, foundings: pd.DataFrame, handed: pd.DataFrame, day: int
) -> np.ndarray:
    """Foundings that `rest` and `all` stand for on a day, after some were handed over.

    Parameters
    ----------
    file : str
    scope : ndarray of bool, shape (len(foundings),)
        From `of_file`.
    foundings : DataFrame
    handed : DataFrame
        Events by which foundings were handed over: code, date, and other, the new keeper's sign.
    day : int
        Days since 1970; an event holds from the next day on.
    """
    before = handed[day_numbers(handed["date"]) < day].sort_values("date", kind="stable")
    if not len(before):
        return scope
    made = scope.copy()
    tag = _tag(file)
    pairs = zip(foundings["keeper"][scope], foundings["founding"][scope], strict=True)
    signs = {(sign or keeper_of(number)).lower() for sign, number in pairs}
    for code, sign in zip(before["code"], before["other"], strict=True):
        made[code] = bool(sign) and (sign.lower() in signs or _speaks_of(tag, sign))
    return made
