"""Tables behind the pictures that stand on the page of details alone.

In come frames; out come `Table`s of printed text, rounded as in sentences and pictures. Never
works anything out anew.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pandas as pd

from cohort.figures.every_kind import CURVES
from cohort.figures.how_sure import contrast_shares
from cohort.figures.material import each
from cohort.figures.names import of_100
from cohort.newsletter.speech import Voice, plain
from cohort.newsletter.table import Table, at_days
from cohort.newsletter.table import heads as _heads

EVERY = 60
"""Days between two rows of a curve; the whole lies in curves.csv."""


def _draws(frame: pd.DataFrame, voice: Voice) -> Table:
    return Table(
        _heads(voice, "kind", "source", "day", "mean", "single_better", "multi_better"),
        tuple(
            (voice.kind(str(r.genus), bool(r.named)), voice.say(f"source_{r.source}"),
             voice.write(int(r.day)), voice.write(of_100(r.mean)), voice.chance(1 - r.multi),
             voice.chance(r.multi))
            for r in each(contrast_shares(frame))
        ),
    )  # fmt: skip


def _every_kind(frame: pd.DataFrame, voice: Voice) -> Table:
    word = dict(zip(CURVES, (voice.labels.queens_alive, voice.labels.with_workers), strict=True))
    parts = []
    for _, part in frame.groupby(["genus", "curve", "way"], sort=False):
        last = float(part["day"].max())
        wanted = np.append(np.arange(0, last, EVERY), last)
        parts.append(at_days(part, wanted))
    return Table(
        _heads(voice, "kind", "quantity", "way", "day", "mean", "at_risk", "foundings"),
        tuple(
            (voice.kind(str(r.genus), bool(r.named)), word[r.curve], voice.say(f"way_{r.way}"),
             voice.write(round(r.day)), voice.write(of_100(r.estimate)),
             "–" if pd.isna(r.at_risk) else voice.write(int(r.at_risk)),
             voice.write(int(r.foundings)))
            for r in each(pd.concat(parts))
        ),
    )  # fmt: skip


def _shrinkage(frame: pd.DataFrame, voice: Voice) -> Table:
    """Kinds that may be named, and all together."""

    def share(value: float) -> str:
        return "–" if pd.isna(value) else voice.write(of_100(value))

    heads = _heads(voice, "kind", "way", "day")
    return Table(
        (*heads, voice.labels.as_counted, voice.labels.pooled, *_heads(voice, "foundings")),
        tuple(
            (voice.kind(str(r.genus), bool(r.named)), voice.say(f"way_{r.way}"),
             voice.write(int(r.day)), share(r.counted), share(r.model),
             voice.write(int(r.foundings)))
            for r in each(frame[frame["spoken"]])
        ),
    )  # fmt: skip


def _keepers_blocks(frame: pd.DataFrame, voice: Voice) -> Table:
    return Table(
        (*_heads(voice, "keeper", "block"), voice.say("way_single"), voice.say("way_multi")),
        tuple(
            (plain(str(r.keeper)) if r.shown else voice.labels.keeper_number.format(n=r.number),
             plain(str(r.block)) if r.shown else voice.write(int(r.place)),
             voice.write(int(r.single)), voice.write(int(r.multi)))
            for r in each(frame)
        ),
    )  # fmt: skip


OF_PICTURE: dict[str, Callable[[pd.DataFrame, Voice], Table]] = {
    "how_sure": _draws,
    "every_kind": _every_kind,
    "shrinkage": _shrinkage,
    "keepers_blocks": _keepers_blocks,
}
