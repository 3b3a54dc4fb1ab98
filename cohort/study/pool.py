"""Several studies as one, so that seasons and clubs can be compared together.

Comes in: studies without errors. Goes out: a frozen `Pooled`: one `Study`, and what was said to
make it one. Never: a change of a count or a date; nothing is guessed.

Founding numbers, blocks and catches are names of one study only. Where a founding's number comes
up in two studies, those of every study are put behind the study's own word (its season, else a
number); blocks, catches and shelves always are, for block B1 of one season is not B1 of the next.
Keepers keep their signs: K2 of last year is K2 of this year. K2 of one club is not K2 of another.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from functools import reduce
from typing import Any, Final

import pandas as pd

from cohort.audit import Settings
from cohort.base.errors import StudyError
from cohort.sheets.raw import Source
from cohort.study import Study
from cohort.study.keepers import HANDED
from cohort.terms.adjusting import Adjust

SIGN: Final = "/"
"""Between the word of a study and a name of its own."""


@dataclass(frozen=True)
class Pooled:
    """Several studies as one.

    Attributes
    ----------
    study : Study
    notes : tuple of str
        What had to be settled between the studies, one sentence each.
    """

    study: Study
    notes: tuple[str, ...]


def words(studies: Sequence[Study]) -> tuple[str, ...]:
    """A word for each study, all different: its season, with a number where two are alike."""
    seasons = [study.settings.season.strip() or "study" for study in studies]
    many = Counter(seasons)
    seen: Counter[str] = Counter()
    out = []
    for season in seasons:
        seen[season] += 1
        out.append(f"{season}-{seen[season]}" if many[season] > 1 else season)
    return tuple(out)


def _clash(names: Sequence[set[str]]) -> set[str]:
    """Names that come up in more than one study."""
    counts = Counter(name for own in names for name in own)
    return {name for name, count in counts.items() if count > 1 and name}


def _behind(word: str) -> Callable[[Any], str]:
    """Put a name behind the word of its study; blank stays blank."""
    return lambda name: f"{word}{SIGN}{name}" if str(name) else ""


def _unnamed(study: Study) -> set[str]:
    """Kinds that bear no genus yet."""
    return set(study.foundings.loc[~study.foundings["named"].astype(bool), "genus"])


def _renamed(
    study: Study, word: str, foundings: bool, kinds: set[str], keepers: bool = False
) -> Study:
    """The study with its own names behind its word, those of its keepers where asked for."""
    put = _behind(word)
    own = set(study.foundings["founding"])
    frame = study.foundings.copy()
    checks, events, catches, temperatures = (
        f.copy() for f in (study.checks, study.events, study.catches, study.temperatures)
    )
    if foundings:
        frame["founding"] = frame["founding"].map(put)
        frame["from_"] = frame["from_"].map(lambda name: put(name) if name in own else name)
        checks["founding"] = checks["founding"].map(put)
        events["founding"] = events["founding"].map(put)
        events["other"] = events["other"].map(lambda name: put(name) if name in own else name)
    for name in ("block", "catch", "shelf"):
        frame[name] = frame[name].map(put)
    if keepers:
        handed = events["event"] == HANDED
        events.loc[handed, "other"] = events.loc[handed, "other"].map(put)
        frame["keeper"], catches["keeper"] = frame["keeper"].map(put), catches["keeper"].map(put)
    catches["catch"] = catches["catch"].map(put)
    temperatures["shelf"] = temperatures["shelf"].map(put)
    words_of_kinds = study.kinds.copy()
    for table, columns in (
        (frame, ("genus", "kind")),
        (catches, ("genus", "kind")),
        (words_of_kinds, ("kind",)),
    ):
        for name in columns:
            table[name] = table[name].map(lambda word_: put(word_) if word_ in kinds else word_)
    for table in (frame, checks, events):
        table["file"] = table["file"].map(put)
    faulty = study.faulty.copy()
    faulty["file"] = faulty["file"].map(put)
    faulty["founding"] = faulty["founding"].map(put) if foundings else faulty["founding"]
    sources = tuple(_source(source, put) for source in study.sources)
    return replace(
        study,
        kinds=words_of_kinds,
        foundings=frame,
        checks=checks,
        events=events,
        catches=catches,
        temperatures=temperatures,
        faulty=faulty,
        sources=sources,
    )


def _source(source: Source, put: Callable[[Any], str]) -> Source:
    return replace(source, name=put(source.name))


def _settings(
    studies: Sequence[Study], named: Sequence[str], clubs: bool = False
) -> tuple[Settings, list[str]]:
    """Settings of the whole, and what had to be settled.

    Raises
    ------
    StudyError
        Days are counted from different moments.
    """
    every = [study.settings for study in studies]
    clocks = {s.clock for s in every}
    if len(clocks) > 1:
        raise StudyError(
            "These studies count their days from different moments "
            f"({', '.join(f'{w}: {s.clock}' for w, s in zip(named, every, strict=True))}), so "
            "they cannot be pooled. Set the same `clock` in each."
        )
    notes = []
    horizon = min(s.horizon_days for s in every)
    if len({s.horizon_days for s in every}) > 1:
        notes.append(
            f"The studies are followed to different days; all are compared to the shortest, "
            f"day {horizon}."
        )
    adjust = reduce(Adjust.within, (s.adjust for s in every))
    dropped = {name for s in every for name in s.adjust.names} - set(adjust.names)
    if dropped:
        notes.append(
            f"Not every study adjusts for {', '.join(sorted(dropped))}: the pooled one does not."
        )
    agreed = [s.leave_out for s in every if s.leave_out] or [()]  # blank: nothing was said
    reasons = tuple(r for r in agreed[0] if all(r in said for said in agreed))
    if {r for said in agreed for r in said} - set(reasons):
        notes.append(
            "The studies agreed on different reasons to leave a founding out; each founding "
            "stands as its own sheets say."
        )
    if len({s.through_winter for s in every}) > 1:
        notes.append(
            "Not every study goes through winter: the pooled one ends with the first winter day."
        )
    ends = [s.ends for s in every]
    titles = list(dict.fromkeys(s.title for s in every if s.title))
    questions = {s.primary_question for s in every} - {""}
    return (
        replace(
            every[0],
            title=" and ".join(titles),
            season=_seasons(every) if clubs else " + ".join(named),
            horizon_days=horizon,
            ends=None if None in ends else max(e for e in ends if e is not None),
            adjust=adjust,
            leave_out=reasons,
            primary_question=questions.pop() if len(questions) == 1 else "",
            place=_together(s.place for s in every),
            photo_credit=_together(s.photo_credit for s in every),
            fight_rule=every[0].fight_rule if len({s.fight_rule for s in every}) == 1 else "",
            show_keepers=all(s.show_keepers for s in every),
            look_every=min(s.look_every for s in every),
            through_winter=all(s.through_winter for s in every),
        ),
        notes,
    )


def _seasons(every: Sequence[Settings]) -> str:
    return " + ".join(dict.fromkeys(s.season for s in every if s.season))


def _together(said: Iterable[str]) -> str:
    """What the studies say, each once; one that says nothing takes nothing away."""
    return ", ".join(dict.fromkeys(text for text in said if text))


def _stacked(frames: Sequence[pd.DataFrame]) -> pd.DataFrame:
    """Frames one below the other; empty ones do not decide a column's type."""
    filled = [frame for frame in frames if len(frame)]
    if not filled:
        return frames[0].copy()
    whole = pd.concat(filled, ignore_index=True)
    some = [str(name) for name in whole if not all(name in frame for frame in filled)]
    texts = [name for name in some if all(isinstance(v, str) for v in whole[name].dropna())]
    return whole.fillna(dict.fromkeys(texts, ""))  # text is "" when blank, one's own too


def _cut(study: Study) -> Study:
    """The study without looks and events after its own end, which the pooled one may not keep."""
    ends = study.settings.ends
    if ends is None:
        return study
    last = pd.Timestamp(ends)
    return replace(
        study,
        checks=study.checks[study.checks["date"] <= last],
        events=study.events[study.events["date"] <= last],
    )


def pooled(studies: Sequence[Study], *, clubs: Sequence[str] = ()) -> Pooled:
    """Several studies as one.

    Parameters
    ----------
    studies : sequence of Study
        One is given back as it is.
    clubs : sequence of str
        Where each is of a club of its own: the clubs' names, all different. Names of the studies
        stand behind them, keepers' signs too.

    Returns
    -------
    Pooled

    Raises
    ------
    StudyError
        No study, the same study twice, or days counted from different moments.
    """
    if not studies:
        raise StudyError("Name at least one study.")
    if len(studies) == 1:
        return Pooled(studies[0], ())
    prints = [tuple(sorted(s.sha256 for s in study.sources)) for study in studies]
    if len(set(prints)) < len(prints) and prints[0]:
        raise StudyError("The same study is named twice; its foundings would count double.")
    named = tuple(clubs) or words(studies)
    settings, notes = _settings(studies, named, bool(clubs))
    foundings = bool(_clash([set(study.foundings["founding"]) for study in studies]))
    if foundings:
        notes.append(
            f"Some founding numbers come up in more than one study: all are written behind "
            f"their study, such as {named[0]}{SIGN}{studies[0].foundings['founding'].iloc[0]}."
        )
    kinds = _clash([_unnamed(study) for study in studies])
    if kinds:
        notes.append(
            f"{', '.join(sorted(kinds))}: not yet named in more than one study; each study's is "
            "taken for a kind of its own."
        )
    parts = [
        _renamed(_cut(study), word, foundings, kinds, bool(clubs))
        for study, word in zip(studies, named, strict=True)
    ]
    return Pooled(
        Study(
            settings=settings,
            kinds=_stacked([p.kinds for p in parts]).drop_duplicates("kind", ignore_index=True),
            foundings=_stacked([p.foundings for p in parts]),
            checks=_stacked([p.checks for p in parts]),
            events=_stacked([p.events for p in parts]),
            catches=_stacked([p.catches for p in parts]),
            temperatures=_stacked([p.temperatures for p in parts]),
            faulty=_stacked([p.faulty for p in parts]),
            sources=tuple(source for part in parts for source in part.sources),
            not_read=tuple(
                _behind(word)(line)
                for word, study in zip(named, studies, strict=True)
                for line in study.not_read
            ),
        ),
        tuple(notes),
    )
