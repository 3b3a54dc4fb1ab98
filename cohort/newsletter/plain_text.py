"""The story and the captions as plain text, for an editor to paste.

In comes `Content`; out comes text without any marks. Never shortens a sentence.
"""

from __future__ import annotations

import textwrap

from cohort.newsletter.content import Content
from cohort.newsletter.photo import PHOTO
from cohort.newsletter.speech import without_marks

WIDTH = 78


def story(content: Content) -> str:
    """Text of story.txt."""
    say = content.voice.say
    season = say("season", season=content.season) if content.season else ""
    head = ", ".join(part for part in (season, content.place) if part)
    parts = [content.title, f"{head}. {content.study_line}" if head else content.study_line, ""]
    parts += [content.headline, "", *([content.summary, ""] if content.summary else [])]
    parts += [*content.short, ""]
    if content.next_season:
        parts += [say("h_next"), *content.next_season, ""]
    for kind in content.kinds:
        parts += [kind.title, *(f"{topic}. {text}" for topic, text in kind.said), ""]
    for key, texts in (
        ("h_counts", content.counted),
        ("h_unseen", content.not_seen),
        ("h_cautions", content.cautions),
        ("h_how", content.how),
        ("h_left_out", content.left_out),
    ):
        parts += [say(key), *texts, ""]
    return _lines(parts)


def captions(content: Content) -> str:
    """Text of captions.txt: files, caption and spoken text of every picture."""
    parts: list[str] = []
    for name, shown in content.pictures.items():
        files = sorted({path.name for path in shown.drawing.paths})
        parts += [name, ", ".join(files), shown.caption, shown.alt, ""]
    if content.photo is not None:
        parts += ["photo", PHOTO, content.photo.caption, content.photo.alt, ""]
    return _lines(parts)


def _lines(parts: list[str]) -> str:
    wrapped = [
        textwrap.fill(without_marks(part), WIDTH, break_long_words=False, break_on_hyphens=False)
        for part in parts
    ]
    return "\n".join(wrapped).rstrip() + "\n"
