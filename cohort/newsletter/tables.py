"""Tables behind the pictures and on the page of details.

In come frames; out come `Table`s of printed text, rounded as in sentences and pictures. Never
works anything out anew.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

import numpy as np
import pandas as pd

from cohort.figures.both_ways import FOLDED
from cohort.figures.hundred import few
from cohort.figures.material import Material, each, flag
from cohort.figures.names import of_100
from cohort.newsletter import detail_tables
from cohort.newsletter.answers import typical_first
from cohort.newsletter.speech import Voice, plain
from cohort.newsletter.table import Table as Table
from cohort.newsletter.table import at_days
from cohort.newsletter.table import heads as _heads
from cohort.newsletter.wording import flagged_here
from cohort.nonparametric.followed import fair_day
from cohort.terms.questions import headline_reading

PER_HUNDRED = {"chance", "share", "colonies per queen"}
"""Units printed as whole things of a hundred."""
WHOLE = {"days", "workers"}
"""Units printed without a decimal."""


def _kind(voice: Voice, row: Any) -> str:
    return voice.kind(str(row.genus), bool(row.named))


def _way(voice: Voice, way: str) -> str:
    return voice.say(f"way_{way or 'none'}")


def _share(voice: Voice, value: float) -> str:
    """A share as whole things of a hundred; a dash where nothing could be worked out."""
    return "–" if pd.isna(value) else voice.write(of_100(value))


def of_picture(name: str, frame: pd.DataFrame, voice: Voice) -> Table:
    """The numbers of a picture as a table."""
    return OF_PICTURE[name](frame, voice)


def without_names(frame: pd.DataFrame) -> pd.DataFrame:
    """The same frame with foundings numbered: a name such as K1-01 tells whose it is."""
    if "founding" not in frame:
        return frame
    numbers = {name: str(i) for i, name in enumerate(frame["founding"].unique(), 1)}
    return frame.assign(founding=frame["founding"].map(numbers))


def by_kind(rows: Sequence[tuple[str, ...]], lots: str, voice: Voice) -> Table:
    """The same queens both ways, a row for each kind that may be named and one not tried yet.

    Parameters
    ----------
    rows : sequence of tuple of str
        Cells, as `cohort.newsletter.words.sayings` fills them.
    lots : str
        What so many queens kept as one lot are called.
    voice : Voice
    """
    ways = (voice.say("way_multi"), voice.say("way_single"))
    last = _heads(voice, "average", "day", "behind")
    heads = (*_heads(voice, "kind", "word", "sure"), *ways, *last)
    return Table(heads, tuple(rows), voice.say("by_kind_lead", lots=lots))


def _by_day(frame: pd.DataFrame, voice: Voice) -> Table:
    """Each thirtieth day of the counted lines and of the model; the whole lies in curves.csv."""
    model = frame[(frame["source"] == "model") & (frame["day"] % 30 == 0)]
    counted = frame[frame["source"] == "counted"]
    wanted = np.arange(0, counted["day"].max() + 1, 30)
    picked = []
    for _, part in counted.groupby(["genus", "way"], sort=False):
        picked.append(at_days(part, wanted))
    rows = pd.concat([*picked, model], ignore_index=True)
    source = {"counted": voice.labels.counted, "model": voice.labels.model_short}
    return Table(
        _heads(voice, "kind", "way", "source", "day", "mean", "low", "high", "foundings"),
        tuple(
            (_kind(voice, r), _way(voice, r.way), source[r.source], voice.write(round(r.day)),
             *(_share(voice, v) for v in (r.estimate, r.low, r.high)),
             voice.write(int(r.foundings)))
            for r in each(rows)
        ),
    )  # fmt: skip


def _left(frame: pd.DataFrame, voice: Voice) -> Table:
    labels = voice.labels
    return Table(
        (*_heads(voice, "kind", "day"), labels.none_left, labels.one_left, labels.several_left,
         *_heads(voice, "groups", "with_workers")),
        tuple(
            (_kind(voice, r), *(voice.write(int(v)) for v in (r.day, r.none, r.one, r.several,
                                                              r.groups, r.with_workers)))
            for r in each(frame)
        ),
    )  # fmt: skip


def _both_ways(frame: pd.DataFrame, voice: Voice) -> Table:
    """The rows of the picture; a kind without one stands in the table of what was counted."""
    labels, size = voice.labels, int(frame["queens"].iloc[0])
    named = {"k": size, "word": labels.numbers.get(size, str(size))}
    words = {
        "any": labels.any_colony.format(**named),
        "count": labels.colonies_each.format(**named),
    }
    source = {"model": labels.model_short, "counted": labels.as_counted}

    def number(value: float, panel: str) -> str:
        if pd.isna(value):
            return "–"
        return voice.decimal(value) if panel == "count" else _share(voice, value)

    return Table(
        _heads(voice, "kind", "quantity", "way", "source", "mean", "low", "high", "foundings"),
        tuple(
            (_kind(voice, r), words[r.panel], _way(voice, r.way), source[r.source],
             *(number(v, r.panel) for v in (r.estimate, r.low, r.high)),
             voice.write(int(r.foundings)))
            for r in each(frame[frame["panel"] != FOLDED])
        ),
    )  # fmt: skip


def _catches(frame: pd.DataFrame, voice: Voice) -> Table:
    methods = voice.labels.methods
    return Table(
        _heads(voice, "date", "method", "kind", "queens"),
        tuple(
            (voice.write(r.date.date()), methods.get(r.method, r.method), _kind(voice, r),
             voice.write(int(r.queens)))
            for r in each(frame.sort_values("date"))
        ),
    )  # fmt: skip


def _season(frame: pd.DataFrame, voice: Voice) -> Table:
    rows = []
    for founding, part in frame.groupby("founding", sort=False):
        start = part["start"].min()
        first = part.loc[part["what"] == "first_worker", "start"]
        lost = part.loc[part["what"] == "all_lost", "start"]
        ends = [w for w in part["what"] if w in voice.labels.ends]
        word = voice.labels.all_lost if len(lost) else "".join(voice.labels.ends[e] for e in ends)
        top = part.iloc[0]
        size = int(part.loc[part["what"] == "bar", "queens"].max()) if len(part) else 0
        rows.append(
            (plain(str(founding)), _kind(voice, top), voice.write(size),
             voice.write(start.date()),
             voice.write(int((first.iloc[0] - start).days)) if len(first) else "–",
             voice.write(int((part["stop"].max() - start).days)), word)
        )  # fmt: skip
    return Table(
        _heads(voice, "founding", "kind", "queens", "started", "first_worker", "end", "outcome"),
        tuple(rows),
    )


def _flow(frame: pd.DataFrame, voice: Voice) -> Table:
    rows = []
    for r in each(frame):
        name = voice.labels.steps[r.step]
        if r.step == "left_out":
            name = name.format(why=voice.labels.left_out.get(r.why, plain(r.why)))
        sign = "" if r.exact else "≥ "
        rows.append(
            (" " * 2 * r.depth + name,
             voice.write(int(r.foundings)) if r.foundings >= 0 else "–",
             sign + voice.write(int(r.queens)) if r.queens >= 0 else "–")
        )  # fmt: skip
    return Table(_heads(voice, "step", "foundings", "queens"), tuple(rows))


def _hundred(frame: pd.DataFrame, voice: Voice) -> Table:
    return Table(
        _heads(voice, "fate", "way", "queens", "of_100"),
        tuple(
            (voice.labels.fates[r.fate], _way(voice, r.way), voice.write(int(r.queens)),
             "–" if few(frame) else voice.write(int(r.of_100)))
            for r in each(frame)
        ),
    )  # fmt: skip


def _expected(frame: pd.DataFrame, voice: Voice) -> Table:
    checks = voice.labels.checks
    return Table(
        _heads(voice, "check", "way", "observed", "expected", "low", "high"),
        tuple(
            (checks.get(r.check, str(r.check)),
             _way(voice, r.group) if r.group in ("single", "multi") else str(r.group),
             *(voice.decimal(float(v), 0) for v in (r.observed, r.expected, r.low, r.high)))
            for r in each(frame)
        ),
    )  # fmt: skip


def _first_days(frame: pd.DataFrame, voice: Voice) -> Table:
    rows = []
    for (genus, way), part in frame.groupby(["genus", "way"], sort=False):
        days = ", ".join(voice.write(round(d)) for d in part["day"].dropna()) or "–"
        middle = float(part["middle"].iloc[0])
        rows.append((voice.kind(str(genus), bool(part["named"].iloc[0])), _way(voice, str(way)),
                     days, "–" if pd.isna(middle) else voice.write(round(middle)),
                     voice.write(len(part))))  # fmt: skip
    return Table(_heads(voice, "kind", "way", "day", "middle", "foundings"), tuple(rows))


OF_PICTURE: dict[str, Callable[[pd.DataFrame, Voice], Table]] = {
    "queen_survival": _by_day,
    "first_worker": _by_day,
    "queens_left": _left,
    "both_ways": _both_ways,
    "catches": _catches,
    "season": _season,
    "flow": _flow,
    "hundred": _hundred,
    "expected": _expected,
    "first_days": _first_days,
    **detail_tables.OF_PICTURE,
}


# ------------------------------------------------------------------ page of details


def raw_table(material: Material, voice: Voice) -> Table:
    """As counted, before any model: per kind and way."""
    named = dict(
        zip(material.history.foundings["genus"], material.history.foundings["named"], strict=True)
    )
    rows = []
    for r in each(material.results.raw):
        out_of = voice.say("t_of", x=int(r.colonies), n=int(r.followed))
        share = "–" if not r.followed else voice.say(
            "t_range", mean=of_100(r.share), low=of_100(r.low), high=of_100(r.high)
        )  # fmt: skip
        rows.append(
            (voice.kind(str(r.genus), bool(named.get(r.genus, False))), _way(voice, r.arm),
             *(voice.write(int(v)) for v in (r.foundings, r.queens, r.queens_lost_before,
                                             r.queens_lost_after, r.with_workers)),
             voice.write(int(r.day)), out_of, share)
        )  # fmt: skip
    heads = _heads(voice, "kind", "way", "foundings", "queens", "lost_before", "lost_after",
                   "with_workers", "day")  # fmt: skip
    # nobody sees whether a living queen is mated, so what is counted is not called a colony
    seen = voice.say("k_row_colony")
    return Table((*heads, seen, voice.say("t_share")), tuple(rows))


def comparison_tables(material: Material, voice: Voice) -> list[Table]:
    """All numbers that may be spoken of, one table per quantity.

    Those carried over from other kinds stand in ``comparisons.csv`` only.
    """
    table = material.results.comparisons
    table = table[table["reading"] == table["quantity"].map(headline_reading)]
    table = table[~table["carried_over"].map(flag)]
    last = fair_day(material.history.foundings, material.history.horizon)
    dated = table["day"].fillna(0).astype(float)
    after = table["question"] == "queens_after_workers"
    # those days run from the first worker
    table = table[dated + after * typical_first(material) <= last]
    known = dict(
        zip(material.history.foundings["genus"], material.history.foundings["named"], strict=True)
    )
    heads = ("kind", "way", "queens", "day", "mean", "low", "high", "foundings", "better",
             "before", "equal", "prior", "doubt")  # fmt: skip
    return [
        Table(
            _heads(voice, *heads),
            tuple(_comparison(row, known, material, voice) for row in each(part)),
            voice.say(f"q_{quantity}"),
        )
        for quantity, part in table.groupby("quantity", sort=False)
    ]


def _comparison(
    row: Any, known: dict[str, bool], material: Material, voice: Voice
) -> tuple[str, ...]:
    number = printed(str(row.unit), voice)
    contrast = not pd.isna(row.chance_multi_better)
    chances: Sequence[float] = (
        row.chance_multi_better, row.prior_chance_multi_better, row.chance_practically_equal
    )  # fmt: skip
    return (
        voice.kind(str(row.genus), bool(known.get(row.genus, False))),
        _way(voice, str(row.arm)),
        voice.write(int(row.queens)),
        "–" if pd.isna(row.day) else voice.write(int(row.day)),
        number(row.mean), number(row.low), number(row.high),
        voice.write(int(row.foundings)),
        *(voice.percent(float(c)) if contrast else "–" for c in chances),
        voice.say("t_yes") if flag(row.prior_rules) else "",
        voice.say("t_yes") if flagged_here(material, str(row.question), str(row.genus)) else "",
    )  # fmt: skip


def printed(unit: str, voice: Voice) -> Callable[[float], str]:
    """How a number in a unit is rounded and written."""

    def write(value: float) -> str:
        if pd.isna(value):
            return "–"
        if unit == "ratio":
            return voice.decimal(float(value), 2)
        if unit in PER_HUNDRED:
            return voice.write(of_100(float(value)))
        if unit in WHOLE:
            return voice.write(round(float(value)))
        return voice.decimal(float(value))

    return write
