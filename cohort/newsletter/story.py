"""The story as plain text, twice: in at most 350 words and in at most 700.

In comes `Content`; out come its own sentences, the most important first until the words are used
up, set in the order in which they are read. Each version is whole and stands on its own, and the
longer one says everything the shorter one says. Never shortens or turns a sentence.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from cohort.newsletter.content import Content
from cohort.newsletter.plain_text import lines
from cohort.newsletter.speech import ITALIC, without_marks

LIMITS: Final = (350, 700)
"""Words of the two versions, headline and all."""
TOPICS: Final = {"survival": 11, "first_worker": 14, "left": 15, "colony": 60}
"""Answers told for all kinds together (or the only kind), in this order, with their weights."""


@dataclass(frozen=True)
class Piece:
    """Some sentences that are taken or left together.

    Parameters
    ----------
    text : str
    weight : int
        The lower, the sooner it is taken.
    place : int
        Paragraph in which it is read; pieces of one paragraph run on.
    """

    text: str
    weight: int
    place: int


def story(content: Content) -> str:
    """Text of story.txt."""
    parts: list[str] = []
    for limit in LIMITS:
        head = content.voice.say("story_limit", n=limit)
        parts += [head, "", *_spaced(version(content, limit)), ""]
    return lines(parts)


def version(content: Content, limit: int) -> list[str]:
    """Paragraphs of one version, the headline first."""
    taken: list[Piece] = []
    room = 0
    pieces = sorted(_pieces(content), key=lambda p: p.weight)
    for step in [x for x in LIMITS if x < limit] + [limit]:
        room = step - words_in(content.headline) - sum(words_in(p.text) for p in taken)
        for piece in pieces:
            if piece not in taken and words_in(piece.text) <= room:
                taken.append(piece)
                room -= words_in(piece.text)
    out = [content.headline]
    for place in sorted({p.place for p in taken}):
        mine = [p.text for p in pieces if p in taken and p.place == place]
        out.append(" ".join(mine))
    return out


def words_in(text: str) -> int:
    """Words of a text as an editor counts them: what stands between blanks."""
    return len(without_marks(text).split())


def _spaced(paragraphs: list[str]) -> list[str]:
    return [line for text in paragraphs for line in (text, "")][:-1]


def _pieces(content: Content) -> list[Piece]:
    """Everything that may be told. Weights: what a reader must not miss has the lowest."""
    law, *mind = content.cautions
    unseen, *more_unseen = content.not_seen
    own = [text for text in mind if ITALIC in text][:1]  # of a kind in the study: a sting
    say = content.voice.say
    season = say("season", season=content.season) if content.season else ""
    place = ", ".join(part for part in (season, content.place) if part)
    named = ". ".join(part for part in (content.title, place, content.study_line) if part)
    out = [
        Piece(named, 3, 0),
        Piece(law, 1, 90),
        *_found(content),
        Piece(content.credits, 4, 95),
        Piece(unseen, 5, 70),
        *(Piece(text, 40 + i, 70) for i, text in enumerate(more_unseen)),
        *(Piece(text, 12 if text in own else 50 + i, 90) for i, text in enumerate(mind)),
        *(Piece(text, 80 + i, 80) for i, text in enumerate(content.how)),
    ]
    return [piece for piece in out if piece.text]


def _found(content: Content) -> list[Piece]:
    """What was found: the same queens both ways, the other answers, the kinds; or the counts."""
    if not content.compared:
        why = Piece(" ".join(content.lead), 0, 1)
        parts = (content.few.each, content.few.more, content.few.ahead, content.few.published)
        return [
            why,
            *(Piece(text, 6 + i, 10 + i) for i, text in enumerate(content.counted)),
            *(Piece(" ".join(part), 16 + i, 30 + i) for i, part in enumerate(parts)),
        ]
    about = next(s.genus for s in content.sayings)
    told = {s.topic: s.text for s in content.sayings if s.genus == about}
    out = [Piece(" ".join(content.lead), 0, 1), Piece(content.level, 6, 3)]
    # the best-known kind before survival, the second before first workers, others last
    out += [Piece(text, (10, 13)[i] if i < 2 else 70 + i, 4 + i)
            for i, text in enumerate(content.kind_leads)]  # fmt: skip
    out += [Piece(text, 61 + i, 15 + i) for i, text in enumerate(content.by_kind_says)]
    out += [
        Piece(told[topic], weight, 20 + i)
        for i, (topic, weight) in enumerate(TOPICS.items())
        if topic in told
    ]
    out.append(Piece(" ".join(content.next_season), 30, 60))
    return out + [Piece(text, 65 + i, 65) for i, text in enumerate(content.sure)]
