"""``rest same`` as people say it in a message: "all others as before".

What comes in: a line. What goes out: the line with ``rest`` at its beginning, where nothing else
can be meant. Talk of a rest, and others of whom it is not said that they are as before, stay as
they are.
"""

from __future__ import annotations

import re

from cohort.sheets import note_words
from cohort.terms import words

_BETWEEN = r"[\s,:;–—-]+"
_ARE = (
    r"(?:(?:is|are|all|still|look|looks|ist|sind|alle|alles|noch|est|sont|toujours|está|están|"
    rf"sigue|siguen){_BETWEEN})*"
)


def _any(known: tuple[str, ...]) -> str:
    return "|".join(re.escape(word) for word in sorted(known, key=len, reverse=True))


_OTHERS = re.compile(rf"(?P<rest>{_any((words.REST, *words.THE_REST))}){_BETWEEN}", re.IGNORECASE)
_BEFORE = re.compile(rf"{_ARE}(?:{_any(words.AS_BEFORE)})(?!\w)", re.IGNORECASE)


def rest_said(line: str) -> tuple[str, str]:
    """Line that begins with ``rest``, and what was typed in its place; blank where nothing was.

    Parameters
    ----------
    line : str
        With single spaces.

    Returns
    -------
    tuple of (str, str)
        ``rest same``, or ``rest`` and the winter rest, with what follows; and the words for it.
    """
    others = _OTHERS.match(line)
    if not others:
        return line, ""
    after = line[others.end() :]
    before = _BEFORE.match(after)
    if before:
        typed = line[: others.end() + before.end()]
        if typed.lower() == f"{words.REST} {words.SAME}":
            return line, ""
        return f"{words.REST} {words.SAME}{after[before.end() :]}", typed
    if others["rest"].lower() != words.REST and note_words.event_in(after) in words.WINTER_REST:
        return f"{words.REST} {after}", others["rest"]
    return line, ""
