"""A second opinion beside the model's numbers, and why they differ.

What comes in: `Row`s and the table of comparisons. What goes out: ``second_opinion.csv``, a frame.
A reason for a difference is chosen by one rule: the method, changed in that one point, must come at
least a quarter of the way to the model.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any, Final

import pandas as pd

from cohort.nonparametric.counts import ALL
from cohort.second_opinion.rows import Row
from cohort.sheets import written
from cohort.terms.opinions import DIFFERS, IGNORES, IN_WINTER, UNDONE
from cohort.terms.questions import AVERAGE

TOWARDS: Final = 0.25
"""Share of the way to the model from which a reason counts."""
NOTHING: Final = (math.nan, math.nan, math.nan)


def model_number(comparisons: pd.DataFrame, row: Row) -> tuple[float, float, float]:
    """Mean and likely range of the model for the number of a row; nan where it gives none.

    Parameters
    ----------
    comparisons : DataFrame
        As in ``comparisons.csv``; empty where the comparison has not settled.
    row : Row
    """
    table = comparisons
    genus = AVERAGE if row.genus == ALL else row.genus
    mine = table["quantity"].eq(row.quantity) & table["genus"].eq(genus) & table["arm"].eq(row.arm)
    mine &= table["queens"].eq(row.queens if row.queens is not None else -1)
    if row.day is not None:
        mine &= table["day"].eq(row.day).fillna(False).astype(bool)
    found = table[mine]
    if "reading" in table.columns:  # what is counted is a colony as seen
        seen = found[found["reading"].eq("seen")]
        found = seen if len(seen) else found
    if not len(found):
        return NOTHING
    one = found.iloc[0]
    return float(one["mean"]), float(one["low"]), float(one["high"])


def reasons(row: Row, model: tuple[float, float, float]) -> list[str]:
    """Codes of why a number differs from the model's, the strongest first; none where it does not.

    They differ where either lies outside the range of the other.
    """
    mean, low, high = model
    if not all(map(math.isfinite, (row.estimate, row.low, row.high, mean, low, high))):
        return []
    if low <= row.estimate <= high and row.low <= mean <= row.high:
        return []

    def scale(value: float) -> float:
        return math.log(value) if row.unit == "ratio" else value

    gap = abs(scale(row.estimate) - scale(mean))
    gain = {code: gap - abs(scale(v) - scale(mean)) for code, v in row.variants.items()}
    named = [code for code in gain if gap > 0 and gain[code] >= TOWARDS * gap]
    return sorted(named, key=lambda code: -gain[code]) or ["unexplained"]


def _told(codes: Sequence[str], clauses: Any) -> str:
    return "; ".join(f"{code}: {clauses[code]}" for code in codes)


def _ignores(method: str, winter: bool) -> str:
    more = IN_WINTER.get(method) if winter else None
    return f"{IGNORES[method]}; {more}" if more else IGNORES[method]


def beside_model(
    rows: Sequence[Row], comparisons: pd.DataFrame, level: float, *, winter: bool = False
) -> pd.DataFrame:
    """The table ``second_opinion.csv``.

    Parameters
    ----------
    rows : sequence of Row
    comparisons : DataFrame
        Empty where the comparison has not settled: the columns of the model stay blank.
    level : float
        Of the ranges of the rows.
    winter : bool
        Whether foundings were followed through winter rest.
    """
    out = []
    for row in rows:
        model = model_number(comparisons, row)
        out.append(
            {
                "method": row.method,
                "question": row.question,
                "quantity": row.quantity,
                "unit": row.unit,
                "genus": row.genus,
                "arm": row.arm,
                "queens": row.queens,
                "day": row.day,
                "estimate": row.estimate,
                "low": row.low,
                "high": row.high,
                "level": level,
                "p": row.p,
                "foundings": row.foundings,
                "model": model[0],
                "model_low": model[1],
                "model_high": model[2],
                "ignores": _ignores(row.method, winter),
                "differs": _told(reasons(row, model), DIFFERS),
                "why": _told([row.why] if row.why else [], UNDONE),
            }
        )
    if not out:
        return written.empty("second_opinion")
    return written.typed(pd.DataFrame(out), "second_opinion")
