"""One keeper's own page before it is set: own foundings beside the club's.

In come a `Material`, a keeper's sign, what is due and what the audit found; out comes a frozen
`KeeperContent`. It names its keeper, for it is made for that keeper, and counts the others. Never
gives a chance of its own, and never ranks keepers: with a handful of foundings each, chance alone
makes them differ.
"""

from __future__ import annotations

import hashlib
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from cohort.audit.ids import of_file
from cohort.audit.show import Group, grouped
from cohort.base.errors import LEVELS, Finding, StudyError
from cohort.figures import Drawing
from cohort.figures.material import Material, NotDrawn
from cohort.figures.season import season_frame
from cohort.newsletter import captions, counts, tables, words
from cohort.newsletter.ahead import Ahead
from cohort.newsletter.content import Shown
from cohort.newsletter.speech import Voice, plain
from cohort.newsletter.tables import Table
from cohort.nonparametric.followed import compared
from cohort.terms.voice import ENGLISH, Said, in_language

if TYPE_CHECKING:
    from cohort.audit import Examined

WAYS = ("single", "multi")
LONGEST = 60
"""Signs of a keeper's name that enter the name of a file."""


@dataclass(frozen=True)
class Need:
    """Like findings of the audit, told in the language of the page where they can be.

    Parameters
    ----------
    language : str
        Two-letter code of the sentences.
    where : str
        File, rows and column; blank when it belongs to no file.
    foundings : tuple of str
    what, remedy : str
    """

    language: str
    where: str
    foundings: tuple[str, ...]
    what: str
    remedy: str


@dataclass(frozen=True)
class KeeperContent:
    """One keeper's page before it is set.

    Parameters
    ----------
    voice : Voice
    title, subtitle : str
        Title of the study; season, and the keeper by name.
    lead : tuple of str
        How much is kept, and own counts beside the club's, in sentences.
    counted : Table
        The same numbers, singly and together.
    pictures : dict of str to Shown
        The season chart of own foundings, where there are any.
    ahead : Ahead or None
        What is due; None when nothing was started by that day.
    tail : str
        The same queens kept singly, beside chances of groups; blank where nothing is compared.
    needs : tuple of (str, tuple of Need)
        Level and findings of the audit.
    left_out : tuple of str
        Own foundings outside the comparison, and why.
    cautions : tuple of str
        For everybody and for the kinds this keeper keeps.
    """

    voice: Voice
    title: str
    subtitle: str
    lead: tuple[str, ...]
    counted: Table
    pictures: dict[str, Shown]
    ahead: Ahead | None
    tail: str
    needs: tuple[tuple[str, tuple[Need, ...]], ...]
    left_out: tuple[str, ...]
    cautions: tuple[str, ...]


def known(examined: Iterable[Examined]) -> tuple[str, ...]:
    """Keepers of the sheets: of foundings, also of those in error, and of catches."""
    tables = [part.tables[name] for part in examined for name in ("foundings", "catches")]
    found = {str(keeper) for table in tables for keeper in table["keeper"].dropna()}
    return tuple(sorted(found - {""}))


def find(name: str, keepers: Sequence[str]) -> str:
    """The keeper meant, as the sheets write it.

    Raises
    ------
    StudyError
        There is no such keeper; the message names those there are.
    """
    if name in keepers:
        return name
    alike = [k for k in keepers if k.casefold() == name.strip().casefold()]
    if len(alike) == 1:
        return alike[0]
    there = f"Keepers there are: {', '.join(keepers)}." if keepers else "The sheets name none."
    raise StudyError(f"No keeper '{plain(name)}' in this study. {there}")


def file_name(keeper: str) -> str:
    """Name of the page's file: ``keeper-K2.html``; odd signs never leave the folder.

    A sign that had to be changed bears a short sum of what it was, so that two never share a file.
    """
    safe = re.sub(r"[^A-Za-z0-9_-]+", "_", keeper).strip("_")[:LONGEST]
    if safe != keeper:
        safe = f"{safe}-{hashlib.sha256(keeper.encode()).hexdigest()[:6]}".lstrip("-")
    return f"keeper-{safe}.html"


def own(material: Material, keeper: str) -> Material:
    """The same material with the foundings of one keeper only."""
    past, study = material.history, material.study
    mine = past.foundings[past.foundings["keeper"].astype(str) == keeper]
    cut: dict[str, Any] = {"foundings": mine}
    for name in ("intervals", "later"):
        frame = getattr(past, name)
        cut[name] = frame[frame["code"].isin(mine.index)] if len(frame) else frame
    ids = set(mine["founding"])
    parts = {
        name: getattr(study, name)[getattr(study, name)["founding"].isin(ids)]
        for name in ("foundings", "checks", "events")
    }
    faulty = study.faulty.iloc[:0]
    catches = study.catches[study.catches["keeper"].astype(str) == keeper]
    return replace(
        material,
        history=replace(past, **cut),
        study=replace(study, **parts, faulty=faulty, catches=catches),
    )


def findings_of(keeper: str, examined: Iterable[Examined]) -> list[Finding]:
    """Findings of a keeper's foundings, and of files that hold that keeper's foundings alone."""
    out = []
    for part in examined:
        foundings = part.tables["foundings"]
        whose = dict(zip(foundings["founding"], foundings["keeper"], strict=True))
        files: dict[str, str] = {}
        for finding in part.findings:
            if finding.file not in files:
                files[finding.file] = _only(finding.file, foundings)
            if (whose.get(finding.founding) or files[finding.file]) == keeper:
                out.append(finding)
    return out


def _only(file: str, foundings: pd.DataFrame) -> str:
    """Keeper of a file that speaks of one keeper's foundings only; else blank."""
    mine = of_file(file, foundings) if len(foundings) else None
    keepers = set() if mine is None else set(foundings["keeper"][mine])
    return str(keepers.pop()) if len(keepers) == 1 else ""


def keeper_content(
    material: Material,
    keeper: str,
    voice: Voice,
    *,
    ahead: Ahead | None,
    findings: Sequence[Finding],
) -> KeeperContent:
    """Everything a keeper's page says, in order.

    Parameters
    ----------
    material : Material
        Results, history and study of the whole club.
    keeper : str
        As the sheets write it.
    voice : Voice
        Language.
    ahead : Ahead or None
        What is due.
    findings : sequence of Finding
        What the audit found in this keeper's rows.
    """
    settings = material.study.settings
    mine = own(material, keeper)
    season = voice.say("season", season=plain(settings.season)) if settings.season else ""
    name = voice.say("k_keeper", keeper=plain(keeper))
    said = words.sayings(material, voice) if words.can_compare(material) else ()
    tail = captions.tail_of(said, material, voice)
    return KeeperContent(
        voice=voice,
        title=plain(settings.title) or voice.say("untitled"),
        subtitle=f"{name}. {season}".strip() + ("." if season else ""),
        lead=_lead(material, mine, voice),
        counted=_counted(material, mine, voice),
        pictures=_pictures(mine, voice),
        ahead=ahead,
        tail=voice.say("cap_tail", tail=tail) if tail and ahead and ahead.groups else "",
        needs=_needs(findings, voice.catalogue.language),
        left_out=tuple(counts.left_out(mine, voice, own=True))
        if len(mine.history.foundings)
        else (),
        cautions=tuple(counts.cautions(mine, voice)),
    )


def _needs(findings: Sequence[Finding], language: str) -> tuple[tuple[str, tuple[Need, ...]], ...]:
    out: list[tuple[str, tuple[Need, ...]]] = []
    for level in LEVELS:
        groups = grouped(f for f in findings if f.level == level)
        if groups:
            out.append((level, tuple(_need(group, language) for group in groups)))
    return tuple(out)


def _need(group: Group, language: str) -> Need:
    texts = [str(in_language(t, language)) for t in (group.where, group.what, group.remedy)]
    spoken = language if isinstance(group.first.what, Said) else ENGLISH
    return Need(spoken, texts[0], group.foundings, texts[1], texts[2])


def _pictures(mine: Material, voice: Voice) -> dict[str, Shown]:
    try:
        frame = season_frame(mine)
    except NotDrawn:
        return {}
    drawing = Drawing("season", frame)
    caption, alt = captions.captions({"season": drawing}, mine, voice, "")["season"]
    return {"season": Shown("season", drawing, caption, alt,
                            tables.of_picture("season", frame, voice))}  # fmt: skip


# ------------------------------------------------------------------ counts


@dataclass(frozen=True)
class _Tally:
    """Counts of a handful of compared foundings."""

    foundings: int
    workers: int
    colonies: int
    alive: int
    queens: int
    days: tuple[float, ...]


def _tally(foundings: pd.DataFrame) -> _Tally:
    first = foundings["first_by"].astype(float)
    seen = np.isfinite(first)
    alive = foundings["queens_end"].astype(int)
    return _Tally(
        len(foundings),
        int(seen.sum()),
        int((seen & (alive > 0)).sum()),
        int(alive.sum()),
        int(foundings["size"].astype(int).sum()),
        tuple(sorted(float(day) for day in first[seen])),
    )


def _of_way(foundings: pd.DataFrame, way: str) -> _Tally:
    return _tally(foundings[foundings["arm"] == way])


def _lead(material: Material, mine: Material, voice: Voice) -> tuple[str, ...]:
    own_all, club_all = mine.history.foundings, material.history.foundings
    if own_all.empty:
        return (voice.say("k_nothing"),)
    rows = mine.study.foundings
    kept = rows.loc[rows["from_"].astype(str) == "", "queens"].astype(int).sum()  # each queen once
    inside, club = _tally(compared(own_all)), _tally(compared(club_all))
    head = voice.say(
        "k_lead",
        foundings=voice.say("foundings", n=len(own_all)),
        queens=voice.say("queens", n=int(kept)),
        inside=inside.foundings,
    )
    if not inside.foundings:
        return (head, voice.say("k_none_compared"))
    beside = voice.say("k_workers", seen=inside.workers, n=inside.foundings,
                       all_seen=club.workers, all=club.foundings)  # fmt: skip
    alive = voice.say("k_alive", alive=inside.alive, n=inside.queens, all_alive=club.alive,
                      all=club.queens)  # fmt: skip
    days: tuple[str, ...] = ()
    if inside.days and club.days:
        days = (voice.say("k_days", mine=_days(inside, voice), club=_days(club, voice)),)
    return (head, " ".join((beside, alive, *days)), voice.say("k_chance"))


def _days(tally: _Tally, voice: Voice, kind: str = "k_day") -> str:
    first, last = round(tally.days[0]), round(tally.days[-1])
    if first == last:
        return voice.say(f"{kind}_one", first=first)
    return voice.say(f"{kind}_many", first=first, last=last,
                     middle=round(float(np.median(tally.days))))  # fmt: skip


def _counted(material: Material, mine: Material, voice: Voice) -> Table:
    """Own foundings and the whole club's, singly and together."""
    sides = [
        _of_way(compared(m.history.foundings), way) for m in (mine, material) for way in WAYS
    ]  # fmt: skip

    def share(some: int, whole: int) -> str:
        return voice.say("t_of", x=some, n=whole) if whole else "–"

    rows = (
        (voice.say("k_row_foundings"), *(voice.write(t.foundings) for t in sides)),
        (voice.say("t_with_workers"), *(share(t.workers, t.foundings) for t in sides)),
        (voice.say("k_row_colony"), *(share(t.colonies, t.foundings) for t in sides)),
        (voice.say("k_row_alive"), *(share(t.alive, t.queens) for t in sides)),
        (voice.say("k_row_days"), *(_days(t, voice, "k_cell") if t.days else "–" for t in sides)),
    )
    heads = [voice.say(f"k_{whose}", way=voice.say(f"way_{way}"))
             for whose in ("own", "club") for way in WAYS]  # fmt: skip
    return Table((voice.say("t_quantity"), *heads), rows)
