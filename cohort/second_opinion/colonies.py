"""Colonies by a day, as counted: an exact test of containers, and the same queens both ways.

What comes in: what had become of each founding by a day (`cohort.nonparametric.counts.by_day`).
What goes out: `Row`s. Only foundings whose fate on that day is known are counted.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray
from scipy.special import ndtri

from cohort.nonparametric.permutation import Cells, cells_of, gaps_of
from cohort.second_opinion.rows import LEAST, Row, UndoneError

Floats = NDArray[np.float64]
type Table = tuple[int, int, int, int]
"""Colonies and foundings of groups, colonies and foundings of singles."""
ALIKE = 1e-7


def wilson(x: int, n: int, level: float) -> tuple[float, float]:
    """Score interval of a share (Wilson 1927, doi:10.1080/01621459.1927.10502953)."""
    z = float(ndtri((1 + level) / 2))
    middle = (x + z * z / 2) / (n + z * z)
    reach = z * np.sqrt(x * (n - x) / n + z * z / 4) / (n + z * z)
    return float(middle - reach), float(middle + reach)


def share_gap(tables: Sequence[Table], level: float) -> tuple[float, float, float]:
    """Share of groups less share of singles, over tables, with its range.

    Parameters
    ----------
    tables : sequence of Table
        One for each kind, weighted by groups x singles / (groups + singles).
    level : float

    Notes
    -----
    Of one table the interval is Newcombe's tenth (1998, doi:10.1002/(SICI)1097-0258(19980430)17:8
    <873::AID-SIM779>3.0.CO;2-I): the distances of each share from its score limits, squared and
    added. Over tables they are added with the squares of the weights.
    """
    weight = np.array([n * m / (n + m) for _, n, _, m in tables])
    weight = weight / weight.sum()
    gap, down, up = 0.0, 0.0, 0.0
    for w, (x, n, y, m) in zip(weight, tables, strict=True):
        (low1, high1), (low2, high2) = wilson(x, n, level), wilson(y, m, level)
        gap += w * (x / n - y / m)
        down += w**2 * ((x / n - low1) ** 2 + (high2 - y / m) ** 2)
        up += w**2 * ((high1 - x / n) ** 2 + (y / m - low2) ** 2)
    return float(gap), float(gap - np.sqrt(down)), float(gap + np.sqrt(up))


def exact_p(tables: Sequence[Table]) -> float:
    """Chance of a count no likelier than the one seen, if both ways had equal odds in each kind.

    Parameters
    ----------
    tables : sequence of Table
        One for each kind. With one table it is Fisher's exact test.

    Notes
    -----
    Given the margins of each table, the number of colonies of groups is hypergeometric, and their
    sum over kinds is the convolution (Mehta, Patel and Gray 1985,
    doi:10.1080/01621459.1985.10478212).
    """
    from scipy.stats import fisher_exact, hypergeom  # slow to load

    if len(tables) == 1:
        x, n, y, m = tables[0]
        return float(fisher_exact([[x, n - x], [y, m - y]]).pvalue)
    chance, seen, low = np.ones(1), 0, 0
    for x, n, y, m in tables:
        first, last = max(0, x + y - m), min(n, x + y)
        chance = np.convolve(chance, hypergeom.pmf(np.arange(first, last + 1), n + m, x + y, n))
        seen, low = seen + x, low + first
    return float(min(1.0, chance[chance <= chance[seen - low] * (1 + ALIKE)].sum()))


def tables_of(frame: pd.DataFrame) -> dict[str, Table]:
    """Colonies and foundings of both ways by kind, where there are both."""
    out: dict[str, Table] = {}
    for genus, own in frame.groupby("genus"):
        multi, single = own[own["arm"] == "multi"], own[own["arm"] == "single"]
        if len(multi) and len(single):
            x, y = int(multi["colony"].sum()), int(single["colony"].sum())
            out[str(genus)] = (x, len(multi), y, len(single))
    return out


def exact_row(row: Row, frame: pd.DataFrame, whole: float | None, level: float) -> Row:
    """Share of groups with a colony less that of singles, with an exact test.

    Parameters
    ----------
    row : Row
    frame : DataFrame
        Known foundings, see `cohort.nonparametric.counts.by_day`: of one kind, or of all.
    whole : float, optional
        The same of all kinds on that day, beside the number of one kind.
    level : float
    """
    tables = list(tables_of(frame).values())
    if not tables or min(sum(t[1] for t in tables), sum(t[3] for t in tables)) < LEAST:
        raise UndoneError("few")
    gap, low, high = share_gap(tables, level)
    variants = _variants(row, frame, _gap_of, whole)
    if whole is None:
        variants["equal"] = float(np.mean([x / n - y / m for x, n, y, m in tables]))
    number = int(sum(t[1] + t[3] for t in tables))
    return replace(
        row, estimate=gap, low=low, high=high, p=exact_p(tables), foundings=number,
        variants=variants,
    )  # fmt: skip


def _gap_of(frame: pd.DataFrame) -> float | None:
    tables = list(tables_of(frame).values())
    return share_gap(tables, 0.9)[0] if tables else None


def _variants(row: Row, frame: pd.DataFrame, number: Any, whole: float | None) -> dict[str, float]:
    """The number for the commonest group size alone, and that of all kinds."""
    out = {} if whole is None else {"others": whole}
    of_size = number(frame[frame["size"].isin([1, row.queens])])
    return out if of_size is None else out | {"size": of_size}


def counted_row(
    row: Row, frame: pd.DataFrame, which: int, whole: float | None, level: float
) -> Row:
    """The same queens, together less singly, as counted.

    Parameters
    ----------
    row : Row
    frame : DataFrame
        Known foundings, see `cohort.nonparametric.counts.by_day`.
    which : int
        0 at least one colony, 1 number of colonies.
    whole : float, optional
        The same of all kinds, beside the number of one kind.
    level : float
    """
    size, genus = frame["size"].to_numpy(np.int64), frame["genus"].to_numpy()
    cells = cells_of(genus, size)
    if not cells.size.size or _fewest(frame[cells.behind]) < LEAST:
        raise UndoneError("few")
    colony = frame["colony"].to_numpy(float)
    gap = float(gaps_of(colony, cells)[which])
    down, up = same_queens_reach(colony, genus, cells, which, level)
    variants = _variants(row, frame, lambda part: same_queens(part, which), whole)
    if whole is None:
        each = [same_queens(own, which) for _, own in frame.groupby("genus")]
        variants["equal"] = float(np.mean([gap for gap in each if gap is not None]))
    return replace(
        row, estimate=gap, low=gap - down, high=gap + up, foundings=int(cells.behind.sum()),
        variants=variants,
    )  # fmt: skip


def same_queens_reach(
    colony: Floats, genus: NDArray[Any], cells: Cells, which: int, level: float
) -> tuple[float, float]:
    """How far the range of the gap reaches below and above it.

    Parameters
    ----------
    colony : numpy.ndarray, shape (foundings,)
    genus : numpy.ndarray, shape (foundings,)
    cells : Cells
    which : int
    level : float

    Notes
    -----
    The distances of each part from its score limits, squared and added (Zou and Donner 2008,
    doi:10.1002/sim.3095): the share of each cell of groups, and for each kind what its singles
    come to, which rises with their share. Resampling would not do: with a few singles it draws the
    same one twice, and its range need not hold the number itself.
    """
    down = up = 0.0
    for weight, member in zip(cells.weight, cells.member.T, strict=True):
        x, n = int(colony[member].sum()), int(member.sum())
        low, high = wilson(x, n, level)
        down, up = down + (weight * (x / n - low)) ** 2, up + (weight * (high - x / n)) ** 2
    kinds = np.array([genus[member][0] for member in cells.member.T])
    for kind in np.unique(kinds):
        own = kinds == kind
        single = cells.single.T[own][0]
        x, n = int(colony[single].sum()), int(single.sum())
        weights, sizes = cells.weight[own], cells.size[own]

        def apart(share: float, w: Floats = weights, k: Floats = sizes) -> float:
            return float((w * (k * share if which else 1 - (1 - share) ** k)).sum())

        low, high = wilson(x, n, level)
        down += (apart(high) - apart(x / n)) ** 2
        up += (apart(x / n) - apart(low)) ** 2
    return float(np.sqrt(down)), float(np.sqrt(up))


def _fewest(frame: pd.DataFrame) -> int:
    return int(min((frame["arm"] == arm).sum() for arm in ("single", "multi")))


def same_queens(frame: pd.DataFrame, which: int) -> float | None:
    """The gap of known foundings as counted; None where no kind has enough singles for a group."""
    cells = cells_of(frame["genus"].to_numpy(), frame["size"].to_numpy(np.int64))
    if not cells.size.size:
        return None
    return float(gaps_of(frame["colony"].to_numpy(float), cells)[which])
