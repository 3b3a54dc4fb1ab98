"""Tables of the likelihood with what the warm clock needs behind them.

Comes in: records and nodes as `cohort.likelihood.layout` has them, and the warm clocks. Goes out:
the same, wider: degree-days at the edges of the cells, at a row of thresholds. Never: a parameter.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from cohort.likelihood import layout as at
from cohort.warmth import WarmClock, thresholds


def _edge_columns(clock: WarmClock, log_days: np.ndarray) -> np.ndarray:
    """Degree-days at days above each threshold kept, then derivatives; shape (days, EDGE_WIDTH)."""
    kept = np.linspace(*thresholds(clock.reference), at.KNOTS)
    values = [clock.degree_days(np.exp(log_days), float(one)) for one in kept]
    return np.stack([v for v, _ in values] + [s for _, s in values], axis=1)


def warm_tables(
    records: np.ndarray, nodes: np.ndarray, clocks: Sequence[WarmClock | None]
) -> tuple[np.ndarray, np.ndarray]:
    """Records and nodes with what the warm clock needs behind them.

    Parameters
    ----------
    records, nodes : float arrays
        Narrow tables, see `cohort.likelihood.layout`.
    clocks : sequence
        By founding; None: plain days.
    """
    wide = np.zeros((len(records), at.WARM_RECORD_WIDTH))
    wide[:, : at.RECORD_WIDTH] = records
    more = np.zeros((len(nodes), at.WARM_NODE_WIDTH))
    more[:, : at.NODE_WIDTH] = nodes
    for i, line in enumerate(records):
        clock = clocks[int(line[at.OWNER])]
        if clock is None:
            continue
        low, high = thresholds(clock.reference)
        head = clock.reference, low, (high - low) / (at.KNOTS - 1)
        wide[i, at.WARM_RECORD : at.WARM_END] = head
        mine = slice(int(line[at.NODES_FROM]), int(line[at.NODES_TO]))
        ends = np.stack([nodes[mine, at.LOG_FROM], nodes[mine, at.LOG_TO]], axis=1)
        every = _edge_columns(clock, np.append(line[at.LOG_END], ends))
        wide[i, at.WARM_END :] = every[0]
        more[mine, at.WARM_NODE : at.WARM_FROM] = head
        more[mine, at.WARM_FROM :] = every[1:].reshape(-1, 2 * at.EDGE_WIDTH)
    return wide, more
