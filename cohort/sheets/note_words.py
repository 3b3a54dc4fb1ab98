"""What follows the counts in a line of check notes: brood, events, food, and the note that is left.

What comes in: the text behind the counts. What goes out: `Told`. Fixed words are read at the
start of it, one after another; the first word that is none begins the note. A note that begins
with what the sheets have a place for (``escaped``, ``split``, ``3 queens``) is refused with the
line to write instead: kept as a note it would be lost, and a queen that escaped would count as
dead.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace

from cohort.sheets.note_line import (
    HOW_ALL,
    NOISE,
    ONLY_EVENTS,
    Line,
    NotUnderstood,
    Told,
    bare_start,
)
from cohort.sheets.numbers import keeper_of
from cohort.sheets.sentences import tell
from cohort.terms import instead, tongues, words
from cohort.terms.near import nearest

_EVENT_WORDS: dict[str, str] = {
    **{event: event for event in words.EVENTS},
    **{event.replace("-", " "): event for event in words.EVENTS if "-" in event},
    **words.EVENT_ALSO,
}
_BROOD_WORDS: dict[str, str] = {**{word: word for word in words.BROOD}, **words.BROOD_ALSO}
_KINDS = (
    ("first", dict.fromkeys(words.FIRST_WORKER, "")),
    ("brood", _BROOD_WORDS),
    ("fed", words.FED),
    ("event", _EVENT_WORDS),
)
_LONGEST_FIRST = sorted(
    ((word, kind, meaning) for kind, table in _KINDS for word, meaning in table.items()),
    key=lambda entry: -len(entry[0]),
)
NOTE = re.compile(r"(?:\A|(?<=\s))note\s*:", re.IGNORECASE)
"""Behind this sign all is note, whatever word it begins with."""
HANDED = "handed-over"
_BETWEEN = " ,;:.!&+/()-–—"
_GONE = (
    "gone",
    "eaten",
    "missing",
    "lost",
    "dead",
    "died",
    "away",
    "vanished",
    "mouldy",
    "not",
    *tongues.GONE,
)


def read_words(line: Line, rest: str) -> Told:
    """What the words behind the counts say.

    Parameters
    ----------
    line : Line
        What stands before them.
    rest : str
        As typed.

    Raises
    ------
    NotUnderstood
        When anything in it is not certain.
    """
    told = NOTE.search(rest)
    if told:  # whoever writes it says herself where the note begins
        before = read_words(line, rest[: told.start()])
        if not before.note:
            return replace(before, note=rest[told.end() :].strip())
    events: list[dict[str, str]] = []
    brood: list[str] = []
    fed = ""
    while True:
        word, kind, meaning, after = _next(rest)
        if not word:
            break
        rest = after
        if kind != "event" and line.founding.lower() == words.ALL:
            raise NotUnderstood(ONLY_EVENTS, HOW_ALL)
        if kind == "first":
            _agrees_with_first_worker(line)
        elif kind == "brood":
            _certain(line, word, after)
            brood.append(meaning)
        elif kind == "fed":
            fed = meaning
        else:
            event, rest = _event(line, meaning, after.lstrip(_BETWEEN))
            events.append(event)
    note = rest.strip(" ,;:.!)") if events or brood or fed else rest.strip()
    if note and not events:
        _another_founding(line, note)
    doubts = _doubts(line, note) if note else ()
    return Told(tuple(events), _highest(line, brood), fed, note, doubts)


def event_in(text: str) -> str:
    """Event with which a text begins; blank when it begins with none."""
    _, kind, meaning, _ = _next(text)
    return meaning if kind == "event" else ""


def fixed_word(text: str) -> str:
    """Kind of the fixed word with which a text begins: first, brood, fed, event; else blank."""
    return _next(text)[1]


def _next(rest: str) -> tuple[str, str, str, str]:
    """Fixed word at the start: as listed, its kind and meaning, and what follows it."""
    bare = bare_start(bare_start(rest).lstrip(_BETWEEN))
    joined = re.match(r"(?:and|with)\s+", bare, re.IGNORECASE)
    for text in (bare, bare[joined.end() :] if joined else ""):
        for word, kind, meaning in _LONGEST_FIRST:
            if _starts(text, word):
                return word, kind, meaning, text[len(word) :]
    return "", "", "", rest


def _starts(text: str, word: str) -> bool:
    low = text.lower()
    return low.startswith(word) and not low[len(word) : len(word) + 1].isalnum()


def _agrees_with_first_worker(line: Line) -> None:
    if line.founding == words.REST:
        _one_of_many("first worker", True)
    workers = line.counts[1] if len(line.counts) == 2 else ""
    if workers in ("", "0"):
        queens = line.counts[0] if line.counts else "3"
        raise NotUnderstood(
            tell("note_first_worker_0" if workers else "note_first_worker"),
            tell("note_first_worker_do", example=f"{line.founding} {queens} 1"),
        )


# --- brood --------------------------------------------------------------------------------------


def _certain(line: Line, word: str, after: str) -> None:
    """A stage of brood is read where it can mean nothing else."""
    stages = ", ".join(words.BROOD)
    if after.startswith("?"):
        example = f"{line.again} {words.BROOD_ALSO.get(word, word)}"
        raise NotUnderstood(
            tell("note_unsure", text=f"{word}?"),
            tell("note_unsure_do", words=stages, example=example),
        )
    gone = instead.told_in(" ".join(after.strip(_BETWEEN).split()[:2]), _GONE)
    if gone:
        raise NotUnderstood(
            tell("note_brood_gone", text=f"{word} {gone}"),
            tell("note_brood_gone_do_rest", words=stages, example=f"{line.again} none")
            if line.founding == words.REST
            else tell("note_brood_gone_do", words=stages, example=f"{line.again} none brood-gone"),
        )
    if word == "none" and len(line.counts) < 2:
        raise NotUnderstood(
            tell("note_none"),
            tell("note_none_do", example=f"{line.again} none"),
        )


def _highest(line: Line, brood: Sequence[str]) -> str:
    """Furthest of the stages named."""
    if "none" in brood and len(set(brood)) > 1:
        raise NotUnderstood(
            tell("note_brood_and_none"),
            tell("note_brood_and_none_do", example=f"{line.again} eggs"),
        )
    return max(brood, key=list(words.BROOD).index, default="")


# --- events -------------------------------------------------------------------------------------


def _event(line: Line, event: str, rest: str) -> tuple[dict[str, str], str]:
    """Number and `other` of an event, where its words allow them; and what is left."""
    out = {"event": event, "number": "", "other": "", "note": ""}
    if event in words.NEEDS_NUMBER or event == "killed":
        token, _, after = rest.partition(" ")
        if token.rstrip(",;:.").isdigit():
            out["number"], rest = token.rstrip(",;:."), after.strip()
    if event in words.OTHER_WORDS:
        out["other"], rest = _other(event, rest)
    example = f"{line.founding} {event}"
    if event == HANDED:
        token, _, after = rest.removeprefix("to ").partition(" ")
        out["other"], rest = token.strip(_BETWEEN), after.strip()
        if not out["other"]:
            raise NotUnderstood(
                tell("note_handed", event=event), tell("note_so", example=f"{example} K3")
            )
    if event == "end" and not out["other"]:
        near = _meant(rest, event)
        raise NotUnderstood(
            tell("note_end_why", words=", ".join(words.END_WHY)),
            near or tell("note_so", example=f"{example} given"),
        )
    if event in words.NEEDS_NUMBER and not out["number"]:
        to = [out["other"]] if out["other"] else []
        raise NotUnderstood(
            tell("note_how_many", event=event),
            tell("note_so", example=" ".join([example, "1", *to])),
        )
    if event == "queens-out" and not out["other"] and _meant(rest, event):
        raise NotUnderstood(
            tell("note_out_where", text=rest.split()[0], words=", ".join(words.QUEENS_OUT_TO)),
            _meant(rest, event),
        )
    return out, rest


def _other(event: str, rest: str) -> tuple[str, str]:
    allowed = words.OTHER_WORDS[event]
    tokens = rest.split()
    for many in (2, 1):
        word = "-".join(tokens[:many]).lower().rstrip(",;:.")
        if len(tokens) >= many and word in allowed:
            return word, " ".join(tokens[many:])
    bare = tokens[0].rstrip(",;:.") if tokens else ""
    if event == "queens-out" and any(sign.isdigit() for sign in bare):
        return bare, " ".join(tokens[1:])
    return "", rest


def _meant(rest: str, event: str) -> str:
    """Remedy for a word behind an event that is not one of its own; blank where none is near."""
    first = rest.split()[0].strip(_BETWEEN) if rest.split() else ""
    told = instead.told_in(first, (*words.LEFT, *words.ENDED))
    word = words.LEFT.get(told) or words.ENDED.get(told, "")
    if event == "end" and instead.told_in(first, words.DIED):
        return tell("note_end_died_do")
    if word not in words.OTHER_WORDS[event]:
        word = nearest(first, words.OTHER_WORDS[event]) if first else ""
    return tell("note_word_do", word=word, text=first) if word else ""


# --- the note -----------------------------------------------------------------------------------


def _doubts(line: Line, note: str) -> tuple[tuple[str, str], ...]:
    """Refuse a note that begins with what belongs in a column; tell of a word nearly known."""
    note = NOISE.sub(" ", note).strip(_BETWEEN)
    if not note:
        return ()
    first = note.split()[0].lower().strip(_BETWEEN + "?'\"")
    start = " ".join(note.lower().split()[:2])
    left = instead.told_in(first, words.LEFT)
    ended = instead.told_in(first, words.ENDED) or instead.told_in(start, ("gave up", "not used"))
    if line.founding == words.REST:
        _one_of_many(first, bool(left or ended))
    if left:
        raise NotUnderstood(tell("note_how_many_left", text=first), _left(line, left))
    if ended:
        raise NotUnderstood(
            tell("note_ended", text=ended),
            tell("note_ended_do", example=f"{line.founding} end {words.ENDED[ended]}"),
        )
    if first in words.PARTED:
        raise NotUnderstood(tell("note_parted", text=first), _parted(line))
    if first in words.WINTER:
        raise NotUnderstood(
            tell("note_winter", text=first),
            tell("note_winter_do", founding=line.founding),
        )
    _dead(line, first)
    _numbers_with_words(line, note.lower(), first)
    return _nearly(line, first)


def _another_founding(line: Line, note: str) -> None:
    """Refuse a second founding in a line, of which the look would be lost in the note."""
    first = note.split()[0].strip(_BETWEEN + "?")
    if keeper_of(first) and keeper_of(first).lower() == keeper_of(line.founding).lower():
        raise NotUnderstood(
            tell("note_two_numbers"), tell("note_two_numbers_do", example=line.again)
        )


def _one_of_many(first: str, told: bool) -> None:
    """Refuse what can only be true of single foundings behind ``rest same``."""
    if told or first in (*words.PARTED, *words.WINTER, *words.DIED, *words.QUEENS, *words.WORKERS):
        raise NotUnderstood(
            tell("note_one_of_many", text=first),
            tell("note_one_of_many_do"),
        )


def _before(line: Line) -> str:
    """Line with one queen more than was counted: as she was there until she left."""
    queens = line.counts[0] if line.counts else ""
    number = str(int(queens) + 1) if queens.isdigit() else "3"
    return " ".join([line.founding, number, *([line.counts[1] or "-"] if line.counts[1:] else [])])


def _left(line: Line, told: str) -> str:
    how = words.LEFT[told]
    one = _before(line) if line.counts else line.founding
    some = f"{one} queens-out 1 {how}"
    if how not in words.END_WHY:
        return tell("note_left_do_counted" if line.counts else "note_left_do", some=some)
    key = "note_left_do_all_counted" if line.counts else "note_left_do_all"
    return tell(key, every=f"{line.founding} end {how}", some=some)


def _parted(line: Line) -> str:
    one = _before(line) if line.counts else line.founding
    return tell("note_parted_do", example=f"{one} queens-out 1 K2-30")


def _dead(line: Line, first: str) -> None:
    if line.founding.lower() == words.ALL:
        return
    if first in words.DIED and (not line.counts or line.counts[0] != "0"):
        raise NotUnderstood(
            tell("note_dead", text=first),
            tell("note_dead_do", example=f"{line.founding} 0 0"),
        )


def _numbers_with_words(line: Line, note: str, first: str) -> None:
    """Counts with words between them, of which only the first would be read."""
    queens = next((count for count in line.counts if count), "3")
    if len(line.counts) == 1 and (first in words.QUEENS or instead.told_in(note, words.WORKERS)):
        raise NotUnderstood(
            tell("note_words_for_workers"),
            tell("note_words_for_workers_do", example=f"{line.founding} {queens} 0"),
        )
    if len(line.counts) == 2 and line.counts[1] not in ("", "0") and first in words.QUEENS:
        raise NotUnderstood(
            tell("note_queens_for_workers", text=f"{line.counts[1]} {first}"),
            tell("note_queens_for_workers_do", example=f"{line.founding} {queens} 0"),
        )


def _nearly(line: Line, first: str) -> tuple[tuple[str, str], ...]:
    """A slip of the pen in a fixed word at the start of a note."""
    known = [word for word, _, _ in _LONGEST_FIRST if " " not in word and len(word) > 3]
    known.remove("none")  # one is a word of notes
    near = next((word for word in known if sorted(word) == sorted(first)), "")
    near = near or (nearest(first, known, cutoff=0.84) if len(first) > 2 else "")
    if not near:
        return ()
    return (
        (
            tell("note_word", text=first),
            tell("note_word_if_meant", word=near, example=f"{line.again} {near}"),
        ),
    )
