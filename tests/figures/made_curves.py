"""Curves of an invented study, for `made`: plain counts by day, and smooth model bands.

Nothing is censored here: the pictures only need rows of the right shape.
"""

from __future__ import annotations

import numpy as np
import pandas as pd

HORIZON = 180


def curves_of(rows, lives, genera):
    """Plain counts by day (no censoring): enough to have something honest to draw."""
    out = []
    days = np.arange(0, HORIZON + 1, 4)
    for genus in ("all", *genera):
        for arm in ("single", "multi"):
            mine = [
                (r, v)
                for r, v in zip(rows, lives, strict=True)
                if r["arm"] == arm and genus in ("all", r["genus"])
            ]
            if not mine:
                continue
            n = sum(r["queens"] for r, _ in mine)
            for day in days:
                alive = sum(_at(v, day, r["queens"]) for r, v in mine)
                had = sum(_had(v, day) for _, v in mine)
                for curve, value, base in (
                    ("queen_survival", alive / n, n),
                    ("first_worker", had / len(mine), len(mine)),
                ):
                    half = 1.64 * np.sqrt(max(value * (1 - value), 0.001) / base)
                    out.append(
                        dict(
                            curve=curve,
                            genus=genus,
                            arm=arm,
                            day=float(day),
                            estimate=value,
                            low=max(0, value - half),
                            high=min(1, value + half),
                            at_risk=base,
                        )
                    )
            if arm == "multi":
                out += _left_rows(genus, mine)
    columns = ["curve", "genus", "arm", "day", "estimate", "low", "high", "at_risk"]
    return pd.DataFrame(out, columns=columns)


def bands_of(sets):
    """Bands of the model at the same looks, and its smooth curves, to be laid over nothing."""
    out = []
    for genus, draws in sets.items():
        for arm, k in (("single", 1), ("multi", max(draws))):
            for day in range(0, HORIZON + 1, 2):
                alive = (
                    draws[k] ** (day / HORIZON)
                    if arm == "single"
                    else (draws[k] * 0.8) ** (day / HORIZON)
                )
                had = draws[k] / (1 + np.exp(-(day - 48) / 5))
                for curve, values in (("queen_survival", alive), ("first_worker", had)):
                    low, high = np.quantile(values, [0.05, 0.95])
                    row = dict(genus=genus, arm=arm, day=float(day), at_risk=np.nan)
                    band = dict(estimate=values.mean(), low=low, high=high)
                    pooled = {"average": "all"}.get(genus, genus)
                    if genus != "new":
                        out.append(row | band | dict(curve=f"replicated_{curve}", genus=pooled))
                    far = dict(estimate=0.001, low=0.0, high=0.002)
                    out.append(row | far | dict(curve=f"model_{curve}"))
    return pd.DataFrame(out)


def _left_rows(genus, mine):
    out = []
    got = [(v, float(v["looks"][v["workers"].index(True)])) for _, v in mine if any(v["workers"])]
    for day in range(0, 91, 3) if got else ():
        left = np.array([_at(v, first + day, 9) for v, first in got])
        for name, hit in (("0", left == 0), ("1", left == 1), ("several", left > 1)):
            share = float(hit.mean())
            out.append(
                dict(
                    curve=f"queens_left_{name}",
                    genus=genus,
                    arm="multi",
                    day=float(day),
                    estimate=share,
                    low=max(0, share - 0.1),
                    high=min(1, share + 0.1),
                    at_risk=len(got),
                )
            )
    return out


def _at(life, day, start):
    before = [a for t, a in zip(life["looks"], life["alive"], strict=True) if t <= day]
    return before[-1] if before else start


def _had(life, day):
    return any(h and t <= day for t, h in zip(life["looks"], life["workers"], strict=True))
