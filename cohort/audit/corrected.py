"""Looks that a later row corrects: the last correction stands, the rows before it are told.

What comes in: typed foundings and checks (with ``code``). What goes out: the looks that stand,
and a note for each correction that shows both. The row that was replaced stays in its sheet.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import NamedTuple

import numpy as np
import pandas as pd

from cohort.audit import ids
from cohort.audit.find import NOTHING, at, day, row_of, tell
from cohort.audit.runs import day_numbers
from cohort.sheets.found import Found
from cohort.terms.voice import beside, each, strung

_CELLS = ("queens_alive", "workers", "brood", "fed", "give_or_take", "photo")


class Corrected(NamedTuple):
    """The looks that stand, findings on corrections, and the rows that were replaced."""

    checks: pd.DataFrame
    findings: Found
    replaced: pd.DataFrame


def corrected(foundings: pd.DataFrame, checks: pd.DataFrame) -> Corrected:
    """Checks without the rows that another row corrects.

    Parameters
    ----------
    foundings, checks : DataFrame
        Typed; checks with ``code`` from `ids.codes`. Of several corrections of one look the last
        one stands, in the order of files and rows.
    """
    rows = np.flatnonzero(checks["corrects"].notna().to_numpy())
    if not len(rows):
        return Corrected(checks, Found(), checks.iloc[:0])
    code = checks["code"].to_numpy()
    of_none = code[rows] < 0
    known = rows[~of_none & checks["date"].notna().to_numpy()[rows]]
    pairs, astray = _pairs(foundings, checks, known)
    gone = np.zeros(len(checks), dtype=bool)
    for _, before in pairs:
        gone[before] = True
    places = np.array([row for row, _ in pairs], dtype=np.int64)
    findings = Found.joined(
        at(
            checks,
            places,
            level="note",
            rule="look-corrected",
            column="corrects",
            what=lambda n: _what(checks, int(places[n]), pairs[n][1]),
            remedy=lambda n: _remedy(checks, pairs[n][1]),
        ),
        at(
            checks,
            astray,
            level="error",
            rule="corrects-nothing",
            column="corrects",
            what=lambda n: tell(
                "corrects_nothing",
                founding=str(checks["founding"].iloc[astray[n]]),
                day=day(checks["corrects"].iloc[astray[n]]),
            ),
            remedy=lambda n: _days_near(checks, int(astray[n])),
        ),
        at(
            checks,
            rows[of_none & np.isin(code[rows], (ids.REST, ids.ALL))],
            level="error",
            rule="corrects-rest",
            column="corrects",
            what=tell("corrects_rest"),
            remedy=tell("corrects_rest_do"),
        ),
    )
    return Corrected(checks[~gone].reset_index(drop=True), findings, checks[gone])


def without_rows(findings: Found, rows: pd.DataFrame) -> Found:
    """Findings but for those on these rows: what was corrected is wrong no more."""
    if not len(rows):
        return findings
    gone = set(zip(rows["file"], rows["tab"], rows["row"], strict=True))
    places = zip(*(findings.values(name) for name in ("file", "tab", "row")), strict=True)
    return findings.take(np.array([place not in gone for place in places], dtype=bool))


def _pairs(
    foundings: pd.DataFrame, checks: pd.DataFrame, rows: np.ndarray
) -> tuple[list[tuple[int, list[int]]], np.ndarray]:
    """Each correction with the rows it replaces, in order; and corrections of nothing."""
    code, when = checks["code"].to_numpy(), day_numbers(checks["date"])
    aim = day_numbers(checks["corrects"])
    live: dict[tuple[int, int], list[int]] = {}
    wanted = set(zip(code[rows].tolist(), aim[rows].tolist(), strict=True))
    mine = np.isin(code, code[rows]) & checks["date"].notna().to_numpy()
    mine &= checks["corrects"].isna().to_numpy()
    for row in np.flatnonzero(mine).tolist():
        if (code[row], when[row]) in wanted:
            live.setdefault((code[row], when[row]), []).append(row)
    by_rest = _by_rest(foundings, checks)
    pairs: list[tuple[int, list[int]]] = []
    astray: list[int] = []
    for row in rows.tolist():
        spot = (int(code[row]), int(aim[row]))
        before = live.pop(spot, [])
        if before or (when[row] == aim[row] and by_rest(*spot)):
            pairs.append((row, before))
        else:
            astray.append(row)
        live.setdefault((int(code[row]), int(when[row])), []).append(row)
    return pairs, np.array(astray, dtype=np.int64)


def _by_rest(foundings: pd.DataFrame, checks: pd.DataFrame) -> Callable[[int, int], bool]:
    """Whether a `rest` row speaks of a founding (its code) on a day."""
    rest = checks[(checks["code"] == ids.REST) & checks["same"] & checks["date"].notna()]
    scopes = {file: ids.of_file(file, foundings) for file in rest["file"].unique()}
    days, files = day_numbers(rest["date"]), rest["file"].tolist()

    def speaks(code: int, when: int) -> bool:
        told = (scopes[files[place]] for place in np.flatnonzero(days == when).tolist())
        return any(scope is not None and bool(scope[code]) for scope in told)

    return speaks


def _cell(checks: pd.DataFrame, row: int, name: str) -> str:
    value = checks[name].iloc[row]
    if pd.isna(value) or (name == "give_or_take" and not value):
        return ""
    more = f"{name}_at_least" in checks and bool(checks[f"{name}_at_least"].iloc[row])
    text = f"{value:g}" if isinstance(value, float) else str(value)
    return f"{text}+" if more else text


def _before(checks: pd.DataFrame, before: list[int], name: str) -> str:
    return next((text for row in reversed(before) if (text := _cell(checks, row, name))), "")


def _said(name: str, text: str) -> str:
    if not text:
        return tell(f"cell_no_{name}")
    if name in ("queens_alive", "workers"):
        return tell(f"cell_{name}", number=text, n=1 if text == "1" else 2)
    return tell("cell_said", column=name, text=text)


def _what(checks: pd.DataFrame, row: int, before: list[int]) -> str:
    """Both rows in a line: ``K1-03 on 2026-07-12: 3 queens, corrected to 2``."""
    parts = []
    if checks["date"].iloc[row] != checks["corrects"].iloc[row]:
        parts.append(tell("corrected_day", day=day(checks["date"].iloc[row])))
    for name in _CELLS:
        old, new = _before(checks, before, name), _cell(checks, row, name)
        if old != new and before:
            to = new or tell("corrected_blank")
            parts.append(tell("corrected_cell", old=_said(name, old), new=to))
        elif new and not before:
            parts.append(tell("corrected_rest", new=_said(name, new)))
    notes = {str(checks["note"].iloc[place]) for place in before} - {""}
    if before and notes != {str(checks["note"].iloc[row])} - {""}:
        parts.append(tell("corrected_note"))
    return tell(
        "look_corrected",
        founding=str(checks["founding"].iloc[row]),
        day=day(checks["corrects"].iloc[row]),
        parts=strung(parts or [tell("corrected_same")]),
    )


def _remedy(checks: pd.DataFrame, before: list[int]) -> str:
    places = [row_of(checks["file"].iloc[row], checks["row"].iloc[row]) for row in before]
    if not places:
        return NOTHING
    return tell("look_corrected_do", n=len(places), places=each(places))


def _days_near(checks: pd.DataFrame, row: int) -> str:
    same = (checks["code"] == checks["code"].iloc[row]) & checks["corrects"].isna()
    days = np.unique(day_numbers(checks["date"])[(same & checks["date"].notna()).to_numpy()])
    aim = day_numbers(checks["corrects"])[row]
    near = sorted(sorted(days.tolist(), key=lambda one: abs(one - aim))[:3])
    told = ", ".join(str(np.datetime64(int(one), "D")) for one in near)
    looked = tell("corrects_nothing_days", days=told) if told else ""
    return beside(tell("corrects_nothing_do"), looked)
