"""The page before it is set: every heading, sentence, picture and table in printing order.

In comes a `Material` and its pictures; out comes a frozen `Content` that web page, print pages and
plain text are all made from, so that they cannot disagree. Never sets type.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from cohort.figures import Drawing
from cohort.figures.material import Material, kinds_to_name
from cohort.figures.plan_picture import plan_frame
from cohort.newsletter import captions, counts, next_season, sure, tables, verdicts, words
from cohort.newsletter.next_season import Planned
from cohort.newsletter.photo import Photo
from cohort.newsletter.speech import Voice, plain, without_marks
from cohort.newsletter.tables import Table
from cohort.newsletter.wording import Saying, flagged_here
from cohort.terms.questions import AVERAGE, NEW

if TYPE_CHECKING:
    from cohort.outcomes.basis import Basis

VERDICTS = ("clearly_multi", "clearly_single", "expected_multi", "expected_single",
            "leans_multi", "leans_single", "same", "open")  # fmt: skip
"""Words of verdicts in the order of the tally."""


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
    """Everything said about one kind: in one sentence, and as (topic, text) pairs."""

    genus: str
    title: str
    name: str
    short: str
    said: tuple[tuple[str, str], ...]


@dataclass(frozen=True)
class Content:
    """The page before it is set; the first text of `short` is the finding on all kinds."""

    voice: Voice
    title: str
    season: str
    place: str
    study_line: str
    compared: bool
    headline: str
    summary: str
    short: tuple[str, ...]
    sure: tuple[str, ...]
    lasting: Table | None
    kinds: tuple[KindPart, ...]
    counted: tuple[str, ...]
    not_seen: tuple[str, ...]
    cautions: tuple[str, ...]
    how: tuple[str, ...]
    next_season: tuple[str, ...]
    credits: str
    notes: tuple[str, ...]
    photo: Photo | None
    left_out: tuple[str, ...]
    pictures: dict[str, Shown]
    missing: dict[str, str]
    sayings: tuple[Saying, ...]
    level: str
    planned: tuple[Planned, ...] = ()


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
    return Content(
        voice=voice,
        title=plain(settings.title) or voice.say("untitled"),
        season=plain(settings.season),
        place=plain(settings.place),
        study_line=counts.study_line(material, voice),
        compared=compared,
        headline=_headline(sayings, material, voice) if compared else voice.say("head_counts"),
        summary=_summary(sayings),
        short=_short(sayings, material, voice)
        if compared
        else (counts.why_counts_only(material, voice),),
        sure=sure.sentences(material, voice) if compared else (),
        lasting=sure.lasting(material, voice) if compared else None,
        kinds=_kinds(sayings, material, voice),
        counted=tuple(counts.counted(material, voice)),
        not_seen=tuple(counts.not_seen(material, voice)),
        cautions=tuple(counts.cautions(material, voice)),
        how=tuple(counts.how(material, voice)),
        next_season=(),
        credits=counts.credits(material, voice, photo is not None),
        notes=tuple(counts.notes(material, voice, faults)),
        photo=photo,
        left_out=tuple(counts.left_out(material, voice)),
        pictures={
            name: Shown(name, d, *told[name], tables.of_picture(name, d.frame, voice), brief[name])
            for name, d in drawings.items()
            if not d.reason
        },
        missing={name: d.reason for name, d in drawings.items() if d.reason},
        sayings=sayings,
        level=voice.say("level", level=round(float(next(iter(level))) * 100)) if compared else "",
    )


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
    return [s for s in sayings if s.topic == "fair"]


def _key(saying: Saying) -> str:
    return f"{saying.verdict}_{saying.side}" if saying.side else saying.verdict


def _headline(sayings: tuple[Saying, ...], material: Material, voice: Voice) -> str:
    fair = _fair(sayings)
    sides = {s.side for s in fair if s.side and s.genus not in (AVERAGE, NEW)}
    if len(sides) == 2 and verdicts.kinds_differ(material):
        return voice.say("head_mixed")
    return voice.say(f"head_{_key(fair[0])}")


def _summary(sayings: tuple[Saying, ...]) -> str:
    """The finding in thirty words at most; blank when nothing is compared."""
    return next((s.summary for s in _fair(sayings)), "")


def _short(sayings: tuple[Saying, ...], material: Material, voice: Voice) -> tuple[str, ...]:
    """The fair pair of all kinds together (or the only kind), then the kinds by their verdicts."""
    fair = _fair(sayings)
    if fair[0].genus != AVERAGE:
        return (fair[0].text,)
    head = voice.cap(voice.kind(AVERAGE, False))
    return (f"{head}. {fair[0].text}", _tally(fair, material, voice))


def _tally(fair: list[Saying], material: Material, voice: Voice) -> str:
    """Kinds by verdict, whether they differ, and in one line those that have none."""
    kinds = [s for s in fair if s.genus not in (AVERAGE, NEW)]
    parts = []
    if kinds:
        parts.append(voice.say("tally_head"))
    for word in VERDICTS:
        mine = [voice.kind(s.genus, s.named) for s in kinds if _key(s) == word]
        if mine:
            parts.append(voice.say(f"tally_{word}", n=len(mine), kinds=voice.listing(mine)))
    if len(kinds) > 1:
        parts.append(voice.say("tally_lean", k=voice.word(len(kinds))))
        parts.append(verdicts.whether_kinds_differ(material, voice))
    named = kinds_to_name(material)
    rest = [k for k in material.kinds if k not in named]
    if rest:
        parts.append(verdicts.too_few(rest, voice))
    return " ".join(part for part in parts if part)


def _kinds(sayings: tuple[Saying, ...], material: Material, voice: Voice) -> tuple[KindPart, ...]:
    counts_of = {k.genus: k.foundings for k in material.kinds}
    out: list[KindPart] = []
    for genus in dict.fromkeys(s.genus for s in sayings):
        mine = [s for s in sayings if s.genus == genus]
        name = voice.kind(genus, mine[0].named)
        title = voice.cap(name)
        if genus in counts_of:
            title = f"{title} ({voice.say('foundings', n=counts_of[genus])})"
        said = tuple((voice.say(f"topic_{s.topic}"), s.text) for s in mine)
        out.append(KindPart(genus, title, name, mine[0].short, said))
    return tuple(out)
