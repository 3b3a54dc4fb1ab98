"""The captions as plain text, for an editor to paste.

In comes `Content`; out comes text without any marks, one paragraph a line. Texts for readers who
cannot see a picture stand in the pages, not here. Never shortens a sentence.
"""

from __future__ import annotations

import re

from cohort.newsletter.content import Content
from cohort.newsletter.photo import PHOTO
from cohort.newsletter.speech import without_marks


def captions(content: Content) -> str:
    """Text of captions.txt: files, caption of under thirty words and credit of every picture."""
    credit = content.voice.say("credit_line", credit=f"{content.title}. {content.credits}".strip())
    parts: list[str] = []
    for name, shown in content.pictures.items():
        files = sorted({path.name for path in shown.drawing.paths})
        parts += [name, ", ".join(files), shown.short, credit, ""]
    if content.photo is not None:
        parts += ["photo", PHOTO, content.photo.caption, ""]
    return lines(parts)


def lines(parts: list[str]) -> str:
    """Paragraphs as lines, without marks; a no-break space stays one."""
    flat = (re.sub(r"[ \t\r\n]+", " ", without_marks(part)).strip() for part in parts)
    return "\n".join(flat).rstrip() + "\n"
