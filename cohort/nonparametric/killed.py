"""Queens seen killed against queens otherwise lost: cumulative incidence by cause.

What comes in: a `Study` (its `killed` events) and its `History`. What goes out: rows like those
of the table of curves. It guesses no cause: a loss of which nobody saw the end is "not seen", and
so the share killed is a lower bound.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from cohort.history import History
from cohort.nonparametric.competing import cumulative_incidence
from cohort.nonparametric.runs import bands, resampled
from cohort.nonparametric.table import ARMS, COLUMNS
from cohort.sheets import written

if TYPE_CHECKING:
    from cohort.study import Study

Floats = NDArray[np.float64]
KILLED, NOT_SEEN = 1, 2
NAMES = {KILLED: "queens_killed", NOT_SEEN: "queens_lost_otherwise"}
NOT_QUEENS = ("workers",)
"""What `other` says when it was no queen that was killed."""
DAY = np.timedelta64(1, "D")


def killed_queens(study: Study, history: History) -> NDArray[np.int64]:
    """Queens seen killed, of those lost in each interval of the history.

    A killing counts in the interval that holds its day, or, noted on the day of a look that still
    counted her, in the one that follows. It never counts for more queens than were lost there; a
    blank number is one queen; killed workers are no queens.
    """
    events, found, spans = study.events, history.foundings, history.intervals
    rows = events[(events["event"] == "killed") & ~events["other"].isin(NOT_QUEENS)]
    out = np.zeros(len(spans), dtype=np.int64)
    code = pd.Index(found["founding"]).get_indexer(rows["founding"])
    started = found["started"].to_numpy("datetime64[D]")
    number = rows["number"].fillna(1).to_numpy(dtype=np.int64)
    by_code = spans.groupby("code").indices
    after, by, lost = (spans[c].to_numpy() for c in ("after", "by", "lost"))
    for c, date, n in zip(code, rows["date"].to_numpy("datetime64[D]"), number, strict=True):
        day = float((date - started[c]) / DAY + found["closed"].iloc[c]) if c >= 0 else np.nan
        own = np.asarray(by_code.get(c, ()), dtype=np.int64)
        here = own[(after[own] <= day) & (day <= by[own])]
        for i in here:  # two intervals at most: the one the day ends, and the next
            seen = min(int(n), int(lost[i] - out[i]))
            out[i] += seen
            n -= seen
    return out


def _rows(
    found: pd.DataFrame, spans: pd.DataFrame, killed: NDArray[np.int64]
) -> tuple[Floats, Floats, NDArray[np.int64], Floats, NDArray[np.int64]]:
    """Entry, exit, cause, queens and founding of like queens; those left at the end too."""
    code = spans["code"].to_numpy()
    by, after = spans["by"].to_numpy(float), spans["after"].to_numpy(float)
    lost = spans["lost"].to_numpy()
    following = np.append(code[1:] == code[:-1], False)
    held = np.where(following, np.append(spans["at_risk"].to_numpy()[1:], 0), 0)
    leave = spans["alive"].to_numpy() - held  # taken out, or alive at the last look
    entry = found["entry"].to_numpy(float)[code]
    opening = (~np.append(False, following[:-1])) & (after > entry)
    entry = np.where(opening, after, entry)
    parts = [
        (killed, KILLED),
        (lost - killed, NOT_SEEN),
        (leave, 0),
    ]
    queens = np.concatenate([n for n, _ in parts]).astype(float)
    cause = np.repeat([k for _, k in parts], len(spans))
    some = queens > 0
    three = [np.tile(x, 3)[some] for x in (entry, by, code)]
    return three[0], three[1], cause[some], queens[some], three[2]


def killed_incidence(
    study: Study, history: History, *, level: float = 0.9, resamples: int = 500, seed: int
) -> pd.DataFrame:
    """Share of queens seen killed and share lost otherwise, by day.

    Parameters
    ----------
    study : Study
    history : History
        Of the same study.
    level : float
        Share of resamples inside the bands.
    resamples : int
        Resamples of whole foundings, within genus and way of founding.
    seed : int

    Returns
    -------
    pandas.DataFrame
        The columns of `cohort.nonparametric.curves`; curves ``queens_killed`` and
        ``queens_lost_otherwise``, a row for day 0 and for each day with a loss, for `all` and each
        genus. Losses are dated at the look that showed them. Bands are blank where one founding is
        all there is. Empty where no killing was noted.

    Notes
    -----
    Aalen and Johansen (1978), www.jstor.org/stable/4615704.
    """
    killed = killed_queens(study, history)
    found = history.foundings
    chosen = found["compared"].to_numpy()
    code = history.intervals["code"].to_numpy()
    if not killed[chosen[code]].any():
        return written.empty("curves")
    parts = []
    for genus in ("all", *sorted(found.loc[chosen, "genus"].unique())):
        for arm in ARMS:
            mine = chosen & found["arm"].eq(arm).to_numpy()
            mine &= True if genus == "all" else found["genus"].eq(genus).to_numpy()
            if mine.any():
                inside = mine[code]
                weights = resampled(int(mine.sum()), resamples, seed, genus, arm)
                place = np.cumsum(mine) - 1
                table = _curves(
                    _rows(found, history.intervals[inside], killed[inside]), place, weights, level
                )
                parts.append(table.assign(genus=genus, arm=arm))
    return pd.concat(parts, ignore_index=True)[list(COLUMNS)]


def _curves(
    rows: tuple[Floats, Floats, NDArray[np.int64], Floats, NDArray[np.int64]],
    place: NDArray[np.int64],
    weights: Floats,
    level: float,
) -> pd.DataFrame:
    """Both curves of one group; ``place`` leads from a founding to its column of ``weights``."""
    entry, leave, cause, queens, code = rows
    by_row = weights[:, place[code]] * queens
    got = cumulative_incidence(entry, leave, cause, by_row, causes=(KILLED, NOT_SEEN))
    low, high = zip(
        *(bands(got.estimate[1:, i], level, weights.shape[1]) for i in range(2)), strict=True
    )
    start = float(queens[entry <= entry.min()].sum()) if len(entry) else 0.0
    tables = []
    for i, which in enumerate((KILLED, NOT_SEEN)):
        tables.append(
            pd.DataFrame(
                {
                    "curve": NAMES[which],
                    "day": np.append(0.0, got.day),
                    "estimate": np.append(0.0, got.estimate[0, i]),
                    "low": np.append(0.0, low[i]),
                    "high": np.append(0.0, high[i]),
                    "at_risk": np.append(start, got.at_risk[0]),
                }
            )
        )
    return pd.concat(tables, ignore_index=True)
