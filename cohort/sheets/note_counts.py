"""Counts in a line of check notes: queens first, then workers.

What comes in: the text behind the number of a founding. What goes out: the counts as typed and
what follows them. A count stands alone (``3 0``) or with its word (``3q 0w``, ``3 queens no
workers``); ``dead`` is a count of 0 where it can mean nothing else. What is not exact is refused.
"""

from __future__ import annotations

import re
from typing import NamedTuple

from cohort.sheets.note_line import NOISE, NotUnderstood, bare_start
from cohort.sheets.note_words import fixed_word
from cohort.sheets.sentences import tell
from cohort.terms import instead, words

NOT_LOOKED = ("-", "–", "?", "_")
"""Signs that hold the place of a count nobody looked for."""

_COUNT = re.compile(r"[0-9]{1,6}\+?\Z")
_LIKE_COUNT = re.compile(r"[+\-.]?\d")


def _one_of(known: tuple[str, ...]) -> str:
    return "|".join(sorted(map(re.escape, known), key=len, reverse=True))


_UNIT = re.compile(
    rf"([0-9]{{1,6}}\+?)\s?(?:(?P<queens>{_one_of(words.QUEENS)})"
    rf"|(?P<workers>{_one_of(words.WORKERS)}))(?![\w+-])",
    re.IGNORECASE,
)
_NO_WORKERS = re.compile(rf"(?:{_one_of(words.NO_WORKERS)})(?!\w)", re.IGNORECASE)
_AND = re.compile(r"[\s,;&+/]*(?:(?:and|und|et|y)\s+)?", re.IGNORECASE)
_ABOUT = re.compile(rf"(?:{_one_of(words.ABOUT)})\s*([0-9]{{1,6}})", re.IGNORECASE)
_EITHER = re.compile(r"(?:or|oder|ou|to|bis|à)\s+[0-9]+", re.IGNORECASE)
_DEAD = re.compile(
    rf"(?:(?:(?P<every>{_one_of(words.EVERY)})\s+)?(?:(?:{_one_of(words.QUEENS)})\s+)?"
    rf"(?:{_one_of(words.DEAD)})|(?P<none>{_one_of(words.NONE_ALIVE)}))(?!\w)",
    re.IGNORECASE,
)
_ENDS = re.compile(rf"\s*(?:[,;.!]|[:;=]['-]?[()/|*](?!\w)|{NOISE.pattern}|\Z)")
_ALONE = ("1", "1.0")  # queens at the start


class Counts(NamedTuple):
    """Queens and workers as typed (``""``: skipped), as many as there are; and what follows."""

    counts: list[str]
    rest: str


def counts_of(founding: str, rest: str, most: int = 2, queens: str = "") -> Counts:
    """Leading counts of a line.

    Parameters
    ----------
    founding : str
        Its number, for messages.
    rest : str
        What stands behind it.
    most : int
        2: queens and workers; 1: workers alone, behind ``rest same``.
    queens : str
        Queens at the start as typed; blank where not known.

    Raises
    ------
    NotUnderstood
        When a count is not certain.
    """
    ahead = bare_start(rest)
    if most > 1:
        after = _behind_dead(ahead, queens)
        if after is not None:
            return Counts(["0"], after)
        with_words = _with_words(founding, ahead)
        if with_words is not None:
            return with_words
    counts: list[str] = []
    while len(counts) < most:
        ahead = bare_start(rest)
        workers = _UNIT.match(ahead) if len(counts) == 1 and most > 1 else None
        if workers and workers["workers"]:
            return _no_more(founding, [*counts, workers[1]], ahead[workers.end() :], most)
        _not_about(founding, ahead)
        token, _, after = ahead.partition(" ")
        bare = NOISE.sub("", token).rstrip(",;:.")
        if bare in NOT_LOOKED:
            counts.append("")
        elif _COUNT.match(bare):
            counts.append(bare)
            _not_either(bare, after)
        elif _LIKE_COUNT.match(bare):
            raise _no_count(founding, bare)
        elif instead.number_word(bare):
            number = str(instead.number_word(bare))
            raise NotUnderstood(
                tell("note_no_count", text=bare), tell("note_word_do", word=number, text=bare)
            )
        else:
            break
        rest = after.strip()
    return _no_more(founding, counts, rest, most) if len(counts) == most else Counts(counts, rest)


def _behind_dead(ahead: str, queens: str) -> str | None:
    """What follows ``dead`` where no living queen can be left; None where it is not said so."""
    dead = _DEAD.match(ahead)
    if not dead or not (dead["every"] or dead["none"] or queens in _ALONE):
        return None
    after = ahead[dead.end() :]
    if not (_ENDS.match(after) or fixed_word(after) == "event"):
        return None
    return after.lstrip(" ,;.!")


def _not_either(count: str, after: str) -> None:
    either = _EITHER.match(after)
    if either:
        raise NotUnderstood(
            tell("note_either", text=f"{count} {either[0]}"),
            tell("note_either_do", number=count.rstrip("+")),
        )


def _no_more(founding: str, counts: list[str], rest: str, most: int) -> Counts:
    rest = rest.strip()
    if _LIKE_COUNT.match(rest):
        raise NotUnderstood(
            tell("note_another_number"),
            tell("note_another_number_do", founding=founding)
            if most > 1
            else tell("note_another_number_do_rest"),
        )
    return Counts(counts, rest)


def _with_words(founding: str, rest: str) -> Counts | None:
    """Counts that bear their words; None where the first does not."""
    told: dict[str, str] = {}
    last, left = "", rest
    while True:
        ahead = _AND.sub("", left, count=1) if told else left
        found, none = _UNIT.match(ahead), _NO_WORKERS.match(ahead)
        if found:
            what = "queens" if found["queens"] else "workers"
            number, end, last = found[1], found.end(), found[0]
        elif none:
            what, number, end, last = "workers", "0", none.end(), none[0]
        else:
            break
        if what in told:
            raise NotUnderstood(
                tell("note_queens_twice" if what == "queens" else "note_workers_twice"),
                tell("note_twice_do", founding=founding),
            )
        told[what], left = number, ahead[end:]
    if not told:
        return None
    again = f"{founding} {told.get('queens', '3')} {told.get('workers', '0')}"
    bare = left.strip(" ,;:.")
    if _LIKE_COUNT.match(bare):
        raise NotUnderstood(
            tell("note_what_counted", text=bare.split()[0]),
            tell("note_what_counted_do", example=again),
        )
    _goes_on(left, last, "workers" in told, again)
    counts = [told.get("queens", ""), told.get("workers", "")]
    return Counts(counts[: 2 if counts[1] else 1], left.strip())


def _goes_on(left: str, last: str, workers: bool, again: str) -> None:
    """Refuse words that may speak of the queens just counted: two queens dead, fighting, left."""
    after = left.strip().split()
    if workers or not after or left.lstrip()[:1] in ",;:.!(" or len(last.split()) == 1:
        return
    if fixed_word(left) not in ("brood", "fed"):
        raise NotUnderstood(
            tell("note_which_queens", text=f"{last} {after[0].strip(',;:.!')}"),
            tell("note_which_queens_do", example=again),
        )


def _not_about(founding: str, rest: str) -> None:
    about = _ABOUT.match(rest)
    if about:
        number = about[1]
        raise NotUnderstood(
            tell("note_not_exact", text=about[0].strip()),
            tell("note_not_exact_do", founding=founding, number=number),
        )


def _no_count(founding: str, bare: str) -> NotUnderstood:
    two = re.fullmatch(r"(\d{1,6}\+?)[,;/](\d{1,6}\+?)", bare)
    if two:
        example = f"{founding} {two[1]} {two[2]}"
        return NotUnderstood(
            tell("note_no_count", text=bare), tell("note_no_count_do_space", example=example)
        )
    return NotUnderstood(tell("note_no_count", text=bare), tell("note_no_count_do"))
