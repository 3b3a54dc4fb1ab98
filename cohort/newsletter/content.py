"""The page before it is set: every heading, sentence, picture and table in printing order.

In comes a `Material` and its pictures; out comes a frozen `Content` that web page, print pages and
plain text are all made from, so that they cannot disagree. Never sets type.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import pandas as pd

from cohort.figures import PICTURES, Drawing
from cohort.figures.material import Material, both_ways, kinds_to_name, verdict_of
from cohort.figures.plan_picture import plan_frame
from cohort.newsletter import (
    captions,
    counts,
    few,
    how_done,
    next_season,
    sure,
    tables,
    verdicts,
    words,
)
from cohort.newsletter.few import NOTHING as NOTHING_FEW
from cohort.newsletter.few import Few
from cohort.newsletter.next_season import Planned
from cohort.newsletter.photo import Photo
from cohort.newsletter.speech import Voice, plain, without_marks
from cohort.newsletter.tables import Table
from cohort.newsletter.wording import Saying, flagged_here
from cohort.terms.questions import AVERAGE, NEW

if TYPE_CHECKING:
    from cohort.outcomes.basis import Basis

LEADS = 8
"""Kinds that get a lead of their own; the table by kind has all of them."""
OF_COUNTS = ("hundred", "first_days", "season")
"""Pictures of a page on which nothing is compared."""


@dataclass(frozen=True)
class Shown:
    """A picture with all that belongs to it.

    Parameters
    ----------
    name : str
        Name of the picture.
    drawing : Drawing
        Its numbers and files.
    caption, alt : str
        What stands under it; what it says to a reader who cannot see it.
    table : Table
        Its numbers.
    short : str
        Caption of under thirty words.
    """

    name: str
    drawing: Drawing
    caption: str
    alt: str
    table: Table
    short: str = ""

    @property
    def title(self) -> str:
        """First sentence of the caption, without marks."""
        return without_marks(self.caption).split(". ")[0].rstrip(".")


@dataclass(frozen=True)
class KindPart:
    """The other questions of one kind, as (topic, text) pairs."""

    genus: str
    title: str
    said: tuple[tuple[str, str], ...]


@dataclass(frozen=True)
class Content:
    """The page before it is set.

    The page proper is the headline, its lead, a lead for a keeper of each kind, one picture, one
    table by kind, what we would do next season, how sure, what was not seen, cautions and how it
    was done. `kinds`, `lasting`, `counted`, `left_out` and `notes` stand on the page of details
    (where nothing is compared, the counts are the page).
    """

    voice: Voice
    title: str
    season: str
    place: str
    study_line: str
    compared: bool
    headline: str
    lead: tuple[str, ...]
    kind_leads: tuple[str, ...]
    by_kind: Table | None
    by_kind_says: tuple[str, ...]
    level: str
    sure: tuple[str, ...]
    lasting: Table | None
    kinds: tuple[KindPart, ...]
    counted: tuple[str, ...]
    not_seen: tuple[str, ...]
    cautions: tuple[str, ...]
    how: tuple[str, ...]
    left_some: str
    next_season: tuple[str, ...]
    credits: str
    notes: tuple[str, ...]
    photo: Photo | None
    left_out: tuple[str, ...]
    pictures: dict[str, Shown]
    missing: dict[str, str]
    sayings: tuple[Saying, ...]
    shows_keepers: bool = False
    planned: tuple[Planned, ...] = ()
    few: Few = NOTHING_FEW

    @property
    def sure_pictures(self) -> tuple[str, ...]:
        """Pictures of how sure the answer is; on the details where nothing is said of it."""
        wanted = [one.name for one in PICTURES if one.section == "sure"] if self.sure else []
        return tuple(name for name in wanted if name in self.pictures)

    @property
    def fates_pictures(self) -> tuple[str, ...]:
        """Pictures of what became of the queens; where nothing is compared they are the page."""
        wanted = [one.name for one in PICTURES if one.section == "fates"] if self.compared else []
        return tuple(name for name in wanted if name in self.pictures)

    @property
    def page_pictures(self) -> tuple[str, ...]:
        """Pictures of the answer; all but these and the two above stand on the details."""
        of_answer = [one.name for one in PICTURES if one.section == "short"]
        wanted = of_answer if self.compared else OF_COUNTS
        there = [name for name in wanted if name in self.pictures]
        return tuple(there[:1] if self.compared else there)


def content(
    material: Material,
    drawings: dict[str, Drawing],
    voice: Voice,
    *,
    photo: Photo | None = None,
    faults: Iterable[str] = (),
) -> Content:
    """Everything a page says, in order, but what we would do next season (`with_plans`).

    Parameters
    ----------
    material : Material
        Results, history and study.
    drawings : dict of str to Drawing
        Pictures, drawn or only numbered.
    voice : Voice
        Language.
    photo : Photo, optional
        The photograph to be printed.
    faults : iterable of str
        Files of photographs that could not be read.
    """
    compared = words.can_compare(material)
    sayings = words.sayings(material, voice) if compared else ()
    tail = captions.tail_of(sayings, material, voice)
    told = captions.captions(drawings, material, voice, tail)
    brief = captions.short_captions(drawings, sayings, material, voice)
    settings = material.study.settings
    level = material.results.comparisons["level"] if compared else [0.9]
    fair = _fair(sayings)
    frames = {name: _named(d.frame, settings.show_keepers) for name, d in drawings.items()}
    return Content(
        voice=voice,
        title=plain(settings.title) or voice.say("untitled"),
        season=plain(settings.season),
        place=plain(settings.place),
        study_line=f"{counts.study_line(material, voice)} {few.until(material, voice)}".strip(),
        compared=compared,
        headline=_headline(fair, material, voice) if compared else _of_counts(material, voice),
        lead=_lead(fair) if compared else (counts.why_counts_only(material, voice),),
        kind_leads=tuple(s.text for s in fair[1:] if s.genus != NEW)[:LEADS],
        by_kind=_by_kind(fair, material, voice),
        by_kind_says=_by_kind_says(fair, material, voice) if compared else (),
        level=voice.say("level", level=round(float(next(iter(level))) * 100)) if compared else "",
        sure=sure.sentences(material, voice) if compared else (),
        lasting=sure.lasting(material, voice) if compared else None,
        kinds=_kinds(sayings, material, voice),
        counted=tuple(counts.counted(material, voice)),
        not_seen=tuple(counts.not_seen(material, voice)),
        cautions=tuple(counts.cautions(material, voice)),
        how=tuple(how_done.how(material, voice)),
        left_some=counts.left_some(material, voice),
        next_season=(),
        credits=counts.credits(material, voice, photo is not None),
        notes=tuple(counts.notes(material, voice, faults)),
        photo=photo,
        left_out=tuple(counts.left_out(material, voice)),
        pictures={
            name: Shown(
                name, d, *told[name], tables.of_picture(name, frames[name], voice), brief[name]
            )
            for name, d in drawings.items()
            if not d.reason
        },
        missing={name: d.reason for name, d in drawings.items() if d.reason},
        sayings=sayings,
        shows_keepers=bool(settings.show_keepers),
        few=NOTHING_FEW if compared else few.few(material, voice),
    )


def _named(frame: pd.DataFrame, show_keepers: object) -> pd.DataFrame:
    return frame if show_keepers else tables.without_names(frame)


def with_plans(ready: Content, material: Material, basis: Basis | None) -> Content:
    """The same content with what we would do next season; none without draws."""
    planned, voice = next_season.plans(material, basis), ready.voice
    said = next_season.sentences(planned, voice)
    if said and any(flagged_here(material, "colony", one.genus) for one in planned):
        said = (*said, voice.say("flagged_here"))
    return replace(
        ready,
        planned=planned,
        next_season=said,
        pictures=ready.pictures | _plan(planned, voice),
    )


def _plan(planned: tuple[Planned, ...], voice: Voice) -> dict[str, Shown]:
    """The picture of the first plan."""
    if not planned:
        return {}
    frame = plan_frame(planned[0].plan.table)
    texts = next_season.texts(planned[0], voice)
    return {
        "plan": Shown(
            "plan", Drawing("plan", frame), table=next_season.table(frame, voice), **texts
        )
    }


def with_drawings(ready: Content, drawn: dict[str, Drawing]) -> Content:
    """The same content, its pictures now drawn."""
    pictures = {
        name: replace(shown, drawing=drawn.get(name, shown.drawing))
        for name, shown in ready.pictures.items()
    }
    return replace(ready, pictures=pictures)


def _fair(sayings: Iterable[Saying]) -> list[Saying]:
    """All kinds together (or the only kind), then kind by kind."""
    return [s for s in sayings if s.topic == "fair"]


def _headline(fair: list[Saying], material: Material, voice: Voice) -> str:
    """The answer in one sentence."""
    first = fair[0]
    sides = {s.side for s in fair[1:] if s.side and s.genus != NEW}
    if len(sides) == 2 and verdicts.kinds_differ(material):
        return voice.say("head_mixed")
    genus = "" if first.genus == AVERAGE else first.genus
    size, box = material.size, words.housing(material)
    key = verdicts.key_of(verdict_of(material, first.genus))
    return voice.cap(
        voice.say(
            f"head_{key}", queens=voice.some_queens(size, genus, first.named),
            k=voice.word(size), tube=voice.say(box), tubes=voice.say(f"{box}s"),
        )
    )  # fmt: skip


def _of_counts(material: Material, voice: Voice) -> str:
    """Headline of a page on which nothing is compared."""
    both = material.history.foundings["compared"].any() and both_ways(material.history.foundings)
    return voice.say("head_few" if both and counts.too_few(material) else "head_counts")


def _lead(fair: list[Saying]) -> tuple[str, ...]:
    """What became of the same queens both ways; then how sure, and on what it is based."""
    first = fair[0]
    return first.head, first.text.removeprefix(first.head).strip()


def _by_kind(fair: list[Saying], material: Material, voice: Voice) -> Table | None:
    rows = [s.cells for s in fair[1:]]
    return tables.by_kind(rows, voice.group(material.size), voice) if rows else None


def _by_kind_says(fair: list[Saying], material: Material, voice: Voice) -> tuple[str, ...]:
    """Whether kinds differ, and in one line those that have no verdict."""
    kinds = [s for s in fair[1:] if s.genus != NEW]
    said = []
    if len(kinds) > 1:
        said.append(verdicts.whether_kinds_differ(material, voice))
        said.append(voice.say("tally_lean", k=voice.word(len(kinds))))
    named = kinds_to_name(material)
    rest = [k for k in material.kinds if k not in named]
    if rest:
        said.append(verdicts.too_few(rest, voice))
        if len(material.kinds) > 1:
            said.append(voice.say("tally_guide"))
    return tuple(text for text in said if text)


def _kinds(sayings: tuple[Saying, ...], material: Material, voice: Voice) -> tuple[KindPart, ...]:
    """The other questions, kind by kind."""
    counts_of = {k.genus: k.foundings for k in material.kinds}
    out: list[KindPart] = []
    for genus in dict.fromkeys(s.genus for s in sayings if s.topic != "fair"):
        mine = [s for s in sayings if s.genus == genus and s.topic != "fair"]
        title = voice.cap(voice.kind(genus, mine[0].named))
        if genus in counts_of:
            title = f"{title} ({voice.say('foundings', n=counts_of[genus])})"
        said = tuple((voice.say(f"topic_{s.topic}"), s.text) for s in mine)
        out.append(KindPart(genus, title, said))
    return tuple(out)
