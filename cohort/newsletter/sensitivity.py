"""Tables of the page of details: every verdict, and its chance under other assumptions.

In come ``verdicts.csv`` and ``sensitivity.csv``, and what further fits gave where they were made;
out come `Table`s, the contrast of the headline first. Never works anything out anew, and leaves out
kinds without a verdict.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any, Final

import pandas as pd

from cohort.base.errors import StudyError
from cohort.figures.material import Material, each, kinds_to_name
from cohort.newsletter import verdicts
from cohort.newsletter.speech import Voice
from cohort.newsletter.tables import Table
from cohort.results.files import THOROUGH
from cohort.results.verdict_rows import DIFFER, HEADLINE, TOGETHER
from cohort.sheets import written
from cohort.terms.questions import AVERAGE

CONTRASTS: Final = (
    HEADLINE,
    "same_queens_count",
    "colonies_per_queen",
    "share_alive_before_workers",
    "share_alive",
    "time_ratio",
    "workers_after_30_days",
)
"""Contrasts that are shown; those per founding, which favour groups by arithmetic, are not."""


def verdict_tables(material: Material, voice: Voice) -> list[Table]:
    """What may be said of each contrast, how sure, and why not surer."""
    heads = ("kind", "day", "word", "sure", "before", "evidence", "own", "why")
    return _tables(material, voice, material.results.verdicts, heads, _verdict)


def sensitivity_tables(material: Material, voice: Voice) -> list[Table]:
    """How likely it is that several queens do better, under other assumptions."""
    heads = ("kind", "day", "read_seen", "read_alike", "read_mated", "half", "double", "before",
             "by_lot", "lot_alone")  # fmt: skip
    return _tables(material, voice, material.results.sensitivity, heads, _assumed)


def _tables(
    material: Material, voice: Voice, frame: pd.DataFrame, heads: tuple[str, ...], cells: Any
) -> list[Table]:
    size = material.size
    named = {kind.genus: kind.named for kind in kinds_to_name(material)}
    if len(material.kinds) == 1:
        named = {}  # the only kind is all kinds together
    order = [AVERAGE, *named, *(genus for genus in TOGETHER if genus != AVERAGE)]
    out = []
    for contrast in CONTRASTS:
        mine = frame[frame["contrast"].eq(contrast) & frame["queens"].eq(size)]
        mine = mine[mine["genus"].isin(order)].set_index("genus")
        rows = []
        for row in each(mine.reindex([genus for genus in order if genus in mine.index])):
            genus = str(row.Index)
            name = voice.say("t_differ") if genus == DIFFER else voice.kind(genus, genus in named)
            day = "–" if pd.isna(row.day) else voice.write(int(row.day))
            rows.append((name, day, *cells(row, genus, material, voice)))
        if rows:
            names = tuple(voice.say(f"t_{head}") for head in heads)
            out.append(Table(names, tuple(rows), voice.say(f"q_{contrast}")))
    return out


def _verdict(row: Any, genus: str, material: Material, voice: Voice) -> tuple[str, ...]:
    found = material.verdicts[str(row.contrast), genus, int(row.queens)]
    why = "" if found.why == "none" else voice.say(verdicts.why_key(found))
    if genus == DIFFER:
        word = voice.say(f"differ_short_{found.word}")
        return (word, voice.percent(found.chance), voice.percent(found.prior_chance), "–", "–",
                why)  # fmt: skip
    word = verdicts.cell(voice, found)
    if found.said and not verdicts.is_finding(found):
        word, why = voice.say("short_arithmetic"), ""
    return (
        word,
        voice.percent(found.sure),
        voice.percent(found.before),
        _factor(voice, found.evidence),
        voice.percent(float(row.own_share)),
        why,
    )


def _assumed(row: Any, genus: str, material: Material, voice: Voice) -> tuple[str, ...]:
    columns = ("chance", "alike", "mated_first", "half", "double", "prior_chance", "by_lot",
               "lot_alone")  # fmt: skip
    return tuple(voice.percent(float(getattr(row, name))) for name in columns)


def _factor(voice: Voice, factor: float) -> str:
    if pd.isna(factor):
        return "–"
    return voice.decimal(factor) if factor < 10 else voice.write(round(factor))


def further_fits(folder: Path | None, voice: Voice) -> tuple[tuple[str, ...], Table | None]:
    """What further fits told (English, as they were written) and the variants of the model.

    Nothing where the folder of results holds none.
    """
    place = None if folder is None else folder / THOROUGH
    if place is None or not (place / "told.txt").is_file():
        return (), None
    said = (place / "told.txt").read_text(encoding="utf-8").splitlines()
    try:
        table = written.read(place / "variants.csv", "variants")
    except StudyError:
        return tuple(said), None
    rows = tuple(
        (str(r.variant), str(r.meaning), voice.decimal(float(r.difference)),
         voice.decimal(float(r.se)), voice.write(int(r.unreliable)),
         voice.say("t_yes" if r.settled else "t_no"))
        for r in each(table)
    )  # fmt: skip
    heads = ("variant", "meaning", "elpd", "se", "unreliable", "settled")
    return tuple(said), Table(tuple(voice.say(f"t_{head}") for head in heads), rows,
                              voice.say("h_variants"))  # fmt: skip
