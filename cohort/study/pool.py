"""Several studies as one, so that seasons and clubs can be compared together.

Comes in: studies without errors. Goes out: a frozen `Pooled`: one `Study`, and what was said to
make it one. Never: a change of a count or a date; nothing is guessed.

A colony that goes on keeps its number, and is one founding (`cohort.study.going_on`). Where two
clubs use one number, the numbers of every study are put behind the study's own word (its season,
else a number); blocks, catches and shelves always are, for block B1 of one season is not B1 of the
next, but for those of a founding that goes on. Keepers keep their signs: K2 of last year is K2 of
this year. K2 of one club is not K2 of another.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from functools import reduce

import pandas as pd

from cohort.audit import Settings
from cohort.audit.seasons import named_seasons
from cohort.audit.show import counted, lines
from cohort.base.errors import Finding, SheetError, StudyError
from cohort.sheets.found import Found
from cohort.study import Study, one_club
from cohort.study.going_on import first_look, joined, stacked
from cohort.study.renaming import SIGN, Names, names_of, renamed
from cohort.terms.adjusting import Adjust


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


def _unnamed(study: Study) -> set[str]:
    """Kinds that bear no genus yet."""
    return set(study.foundings.loc[~study.foundings["named"].astype(bool), "genus"])


def _settings(
    studies: Sequence[Study], named: Sequence[str], seasons: Sequence[str]
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
            season=" + ".join(
                dict.fromkeys(one for word in seasons for one in named_seasons(word))
            ),
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


def _together(said: Iterable[str]) -> str:
    """What the studies say, each once; one that says nothing takes nothing away."""
    return ", ".join(dict.fromkeys(text for text in said if text))


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
    SheetError
        The sheets of two seasons of one club contradict each other; it carries the findings.
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
    seasons = [study.settings.season for study in studies] if clubs else named
    settings, notes = _settings(studies, named, seasons)
    cut = [_cut(study) for study in studies]
    series = one_club.apart(cut) if clubs else one_club.clubs(cut, named)
    notes += series.notes
    numbers = [{n for i in club for n in cut[i].foundings["founding"]} for club in series.members]
    unnamed = [set[str]().union(*(_unnamed(cut[i]) for i in club)) for club in series.members]
    twice, kinds = _clash(numbers), _clash(unnamed)
    if twice:
        notes.append(
            f"Some founding numbers come up in more than one study: all are written behind "
            f"their study, such as {named[0]}{SIGN}{studies[0].foundings['founding'].iloc[0]}."
        )
    if kinds:
        notes.append(
            f"{', '.join(sorted(kinds))}: not yet named in more than one study; each study's is "
            "taken for a kind of its own."
        )
    found: list[Finding] = []
    parts = []
    for club in series.members:
        own = _of_a_club(
            [(cut[i], named[i]) for i in club],
            numbers=bool(twice), kinds=kinds, keepers=bool(clubs),
        )  # fmt: skip
        part, told, said = joined(own)
        parts.append(part)
        found += told
        notes += said
    if found:
        every = Found.of(found).without_repeats().in_order()
        raise SheetError(
            every, "\n".join([f"The sheets of the seasons have {counted(every)}.", *lines(every)])
        )
    return Pooled(
        Study(
            settings=settings,
            kinds=stacked([p.kinds for p in parts]).drop_duplicates("kind", ignore_index=True),
            foundings=stacked([p.foundings for p in parts]),
            checks=stacked([p.checks for p in parts]),
            events=stacked([p.events for p in parts]),
            catches=stacked([p.catches for p in parts]),
            temperatures=stacked([p.temperatures for p in parts]),
            faulty=stacked([p.faulty for p in parts]),
            sources=tuple(source for part in parts for source in part.sources),
            not_read=tuple(line for part in parts for line in part.not_read),
        ),
        tuple(notes),
    )


def _of_a_club(
    studies: Sequence[tuple[Study, str]], *, numbers: bool, kinds: set[str], keepers: bool
) -> list[Study]:
    """The studies of a club, the earliest first, with the names they have in the whole."""
    before: list[tuple[Study, Names]] = []
    for study, word in sorted(studies, key=lambda one: first_look(one[0])):
        own = names_of(study, word, before, numbers=numbers, kinds=kinds & _unnamed(study))
        before.append((study, own))
    return [renamed(study, own, keepers=keepers) for study, own in before]
