"""A page on which nothing is compared yet: each founding, what comes next, what others found.

In comes a `Material`; out comes a frozen `Few`: sentences, and no verdict. What comes next goes by
general assumptions, told for the day of the last look, so that the same sheets give the same page.
Never fits; never names a keeper the study does not show.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Hashable, Iterable, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

import numpy as np
import pandas as pd

from cohort.base.errors import StudyError
from cohort.figures.material import Material, each, kinds_in_order
from cohort.figures.season import QUIET_ENDS
from cohort.newsletter.ahead import day_text
from cohort.newsletter.speech import ITALIC, UPRIGHT, Voice, plain
from cohort.nonparametric.followed import ENOUGH, ENOUGH_OF_KIND, WAYS, compared
from cohort.published import found, published, sources
from cohort.published.words import speaks

if TYPE_CHECKING:
    from cohort.forecast.due import Due

Row = Mapping[Hashable, Any]
Said = tuple[str, tuple[tuple[str, Any], ...]]
"""Key of a sentence, and what goes into its blanks."""
MOST: Final = 12
"""Foundings that are told one by one; of more the counts say enough."""
DRAWS: Final = 300
"""Draws of the priors that what comes next stands on, as many as `cohort due` takes."""


@dataclass(frozen=True)
class Few:
    """What a page says where nothing is compared.

    Parameters
    ----------
    each : tuple of str
        A sentence for each founding; empty where there are too many.
    ahead : tuple of str
        What is due, as of the last look; the first says what it goes by.
    published : tuple of str
        What papers found on the kinds of the study, and the papers.
    more : tuple of str
        How many foundings are still needed.
    """

    each: tuple[str, ...] = ()
    ahead: tuple[str, ...] = ()
    published: tuple[str, ...] = ()
    more: tuple[str, ...] = ()


NOTHING: Final = Few()


def few(material: Material, voice: Voice) -> Few:
    """What a page says where nothing is compared.

    Parameters
    ----------
    material : Material
        Results, history and study.
    voice : Voice
        Language.
    """
    return Few(
        tuple(_each(material, voice)),
        tuple(_ahead(material, voice)),
        tuple(_published(material, voice)),
        tuple(_more(material, voice)),
    )


def until(material: Material, voice: Voice) -> str:
    """To which day the sheets go, while foundings are still open; blank afterwards."""
    foundings, last = material.history.foundings, last_look(material)
    ends = material.study.settings.ends
    open_ones = int((foundings["end_kind"] == "followed").sum())
    if last is None or not open_ones or (ends is not None and last >= ends):
        return ""
    return voice.say("until", n=open_ones, date=last, day=int(foundings["end"].max()))


def last_look(material: Material) -> dt.date | None:
    """Day of the last look in the sheets."""
    day = material.study.checks["date"].max()
    return None if pd.isna(day) else day.date()


# --- founding by founding -------------------------------------------------------------------------


def _numbered(material: Material) -> bool:
    """Whether foundings may be named: a number such as K1-01 tells whose it is."""
    alone = material.history.foundings["keeper"].nunique() <= 1
    return alone or bool(material.study.settings.show_keepers)


def _queens(row: Row, voice: Voice) -> str:
    """``three Lasius queens``."""
    size = int(row["size"])
    kind = voice.kind(str(row["genus"]), bool(row["named"]))
    return voice.say("few_who", n=size, k=voice.word(size), kind=kind)


def _gathered(told: Iterable[tuple[str, str, Said]], numbered: bool, voice: Voice) -> list[str]:
    """Sentences of foundings (number, queens, what is said); those that are alike in one."""
    alike: dict[tuple[str, Said], list[str]] = {}
    for number, queens, said in told:
        alike.setdefault((queens, said), []).append(number)
    out = []
    for (queens, (key, values)), numbers in alike.items():
        key_of = "few_numbers" if numbered else "few_alike"
        who = voice.say(
            key_of, n=len(numbers), numbers=voice.listing(numbers),
            queens=queens if numbered else voice.cap(queens), k=voice.word(len(numbers)),
        )  # fmt: skip
        out.append(voice.say(key, who=who, **dict(values)))
    return out


def _each(material: Material, voice: Voice) -> list[str]:
    foundings = material.history.foundings
    if not 0 < len(foundings) <= MOST:
        return []
    seen = set(material.study.checks["founding"])
    told = (
        (plain(row["founding"]), _queens(row, voice), _fate(row, row["founding"] in seen, voice))
        for row in foundings.to_dict("records")
    )
    return _gathered(told, _numbered(material), voice)


def _fate(row: Row, seen: bool, voice: Voice) -> Said:
    """What became of a founding: the sentence and its blanks."""
    if not seen:
        return "few_unseen", ()
    workers = voice.say("few_no_workers")
    if np.isfinite(float(row["first_by"])):
        workers = voice.say("few_workers", day=round(float(row["first_by"])))
    how = (("day", int(row["end"])), ("workers", workers))
    end = str(row["end_kind"])
    if end == "all lost":
        return "few_lost", how
    if end not in QUIET_ENDS:
        return "few_ended", (*how, ("why", voice.labels.ends[end]))
    return "few_alive", (*how, ("n", int(row["size"])), ("alive", int(row["queens_end"])))


# --- what comes next ------------------------------------------------------------------------------


def _ahead(material: Material, voice: Voice) -> Iterable[str]:
    on = last_look(material)
    if on is None or not until(material, voice):
        return
    what = _due(material, on)
    if what is None:
        return
    yield voice.say("few_ahead")
    coming = what.looks[what.looks["when"] != "winter"]["due"]
    if len(coming):
        yield voice.say("few_look", date=coming.min().date())
    if len(material.history.foundings) > MOST or what.windows.empty:
        return
    rows = {str(r["founding"]): r for r in material.history.foundings.to_dict("records")}
    yield voice.say("few_windows")
    told = []
    for window in each(what.windows[~what.windows["overdue"].astype(bool)]):
        days = tuple(
            (name, day_text(getattr(window, name), voice))
            for name in ("low50", "high50", "low90", "high90")
        )
        queens = _queens(rows[str(window.founding)], voice)
        told.append((plain(window.founding), queens, ("few_window", days)))
    yield from _gathered(told, _numbered(material), voice)


def _due(material: Material, on: dt.date) -> Due | None:
    """What is due by general assumptions; None where nothing had begun."""
    from cohort.forecast.due import due
    from cohort.outcomes.basis import prior_basis

    genera = tuple(k.genus for k in kinds_in_order(material.history.foundings))
    if not genera:
        return None
    try:
        return due(material.study, on, prior_basis(draws=DRAWS))
    except StudyError:  # nothing had been started by that day
        return None


# --- what others found ----------------------------------------------------------------------------


def _published(material: Material, voice: Voice) -> Iterable[str]:
    own = speaks(voice.catalogue.language)
    papers: dict[str, None] = {}
    for kind in kinds_in_order(material.history.foundings):
        if not kind.named:
            continue
        what = published(kind.genus)
        first, *told = found(what, own)
        yield _italic(" ".join([first, *told]), what.genus, what.names)
        papers |= dict.fromkeys(sources(what, own))
    if papers:
        yield f"{own.say('papers', papers=voice.strung(list(papers)))} {own.say('not_whole')}"


def _italic(text: str, genus: str, names: Iterable[str]) -> str:
    """Scientific names marked for italics, the longest first, none of them twice."""
    every = {genus, *names, *(name.split()[0] for name in names)}
    every |= {f"{name[0]}. {name.split()[1]}" for name in names}
    parts = [text]
    for name in sorted(every, key=len, reverse=True):
        cut: list[str] = []
        for part in parts:
            if part.startswith(ITALIC):
                cut.append(part)
                continue
            pieces = part.split(name)
            for i, piece in enumerate(pieces):
                cut += [f"{ITALIC}{name}{UPRIGHT}"] if i else []
                cut.append(piece)
        parts = cut
    return "".join(parts)


# --- how many more --------------------------------------------------------------------------------


def _more(material: Material, voice: Voice) -> Iterable[str]:
    inside = compared(material.history.foundings)
    there = {way: int((inside["arm"] == way).sum()) for way in WAYS}
    lacking = {way: max(0, ENOUGH - count) for way, count in there.items()}
    if any(lacking.values()):
        key = "both" if all(lacking.values()) else next(w for w, n in lacking.items() if n)
        words = {way: voice.word(count) for way, count in lacking.items()}
        yield voice.say(f"few_more_{key}", least=voice.word(ENOUGH), **words)
    kinds = [
        voice.say("few_kind", kind=voice.kind(k.genus, k.named), **_ways(inside, k.genus, voice))
        for k in kinds_in_order(inside)
    ]
    if kinds:
        yield voice.say("few_more_kind", own=voice.word(ENOUGH_OF_KIND), kinds=voice.listing(kinds))
    keepers = {str(k) for k in inside["keeper"] if str(k)}
    if len(keepers) == 1:
        yield voice.say("few_one_keeper")
    yield voice.say("few_power")


def _ways(inside: pd.DataFrame, genus: str, voice: Voice) -> dict[str, str]:
    mine = inside[inside["genus"] == genus]["arm"]
    counts = {way: int((mine == way).sum()) for way in WAYS}
    return {way: voice.word(n) if n else voice.say("few_none") for way, n in counts.items()}
