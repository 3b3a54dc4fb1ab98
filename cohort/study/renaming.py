"""Names of one study among several: which stay, and which are put behind the study's own word.

Comes in: a study, its word, and the studies of its club before it. Goes out: the same study with
the names it has in the whole. Never: a change of a count or a date.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any, Final

from cohort.study import Study
from cohort.study.keepers import HANDED

SIGN: Final = "/"
"""Between the word of a study and a name of its own."""
_OF_A_SEASON: Final = ("block", "catch", "shelf")


@dataclass(frozen=True)
class Names:
    """What the names of a study are in the whole, by the names it uses.

    Attributes
    ----------
    word : str
        Of the study.
    behind : bool
        Whether founding numbers are put behind the word.
    founding, block, catch, shelf, kind : mapping of str to str
        Of kinds only those that are renamed.
    """

    word: str
    behind: bool
    founding: Mapping[str, str]
    block: Mapping[str, str]
    catch: Mapping[str, str]
    shelf: Mapping[str, str]
    kind: Mapping[str, str]


def behind(word: str) -> Callable[[Any], str]:
    """Put a name behind the word of its study; blank stays blank."""
    return lambda name: f"{word}{SIGN}{name}" if str(name) else ""


def names_of(
    study: Study,
    word: str,
    before: Sequence[tuple[Study, Names]],
    *,
    numbers: bool,
    kinds: Collection[str],
) -> Names:
    """Names of a study in the whole.

    Parameters
    ----------
    study : Study
    word : str
    before : sequence of (Study, Names)
        Of the same club. A founding that is in one of them bears its name there, and so do the
        block, catch, shelf and kind that it has in both.
    numbers : bool
        Whether founding numbers are put behind the word.
    kinds : collection of str
        Words of kinds that mean something else in another club.
    """
    put = behind(word)
    found = study.foundings
    founding = {name: put(name) if numbers else str(name) for name in found["founding"]}
    shared: dict[str, dict[str, str]] = {name: {} for name in (*_OF_A_SEASON, "kind")}
    for earlier, names in reversed(before):  # the first that has it counts
        theirs = earlier.foundings.set_index("founding")
        own = found[found["founding"].isin(theirs.index)]
        founding |= {name: names.founding[name] for name in own["founding"]}
        for column, new in shared.items():
            alike = own[column][own[column] == own["founding"].map(theirs[column])]
            there: Mapping[str, str] = getattr(names, column)
            new |= {name: there.get(name, name) for name in alike}
    used = {
        "block": set(found["block"]),
        "catch": {*found["catch"], *study.catches["catch"]},
        "shelf": {*found["shelf"], *study.temperatures["shelf"]},
    }
    made = {
        column: {name: shared[column].get(name, put(name)) for name in some}
        for column, some in used.items()
    }
    kind = {name: shared["kind"].get(name, put(name)) for name in kinds}
    return Names(word, numbers, founding, **made, kind=kind)


def renamed(study: Study, names: Names, *, keepers: bool = False) -> Study:
    """The study with the names it has in the whole, and its files behind its word.

    Parameters
    ----------
    study : Study
    names : Names
    keepers : bool
        Whether the signs of its keepers are put behind its word, too.
    """
    put = behind(names.word)
    frame = study.foundings.copy()
    checks, events, catches, temperatures = (
        f.copy() for f in (study.checks, study.events, study.catches, study.temperatures)
    )
    words = study.kinds.copy()
    for new, places in (
        (names.founding, ((frame, "founding"), (frame, "from_"), (checks, "founding"),
                          (events, "founding"), (events, "other"))),
        (names.block, ((frame, "block"),)),
        (names.catch, ((frame, "catch"), (catches, "catch"))),
        (names.shelf, ((frame, "shelf"), (temperatures, "shelf"))),
        (names.kind, ((frame, "genus"), (frame, "kind"), (catches, "genus"), (catches, "kind"),
                      (words, "kind"))),
    ):  # fmt: skip
        for table, column in places:
            table[column] = [new.get(name, name) for name in table[column]]
    if keepers:
        handed = events["event"] == HANDED
        events.loc[handed, "other"] = events.loc[handed, "other"].map(put)
        frame["keeper"], catches["keeper"] = frame["keeper"].map(put), catches["keeper"].map(put)
    faulty = study.faulty.copy()
    known = names.founding
    faulty["founding"] = [
        known.get(name, put(name) if names.behind else name) for name in faulty["founding"]
    ]
    for table in (frame, checks, events, faulty):
        table["file"] = table["file"].map(put)
    return replace(
        study,
        kinds=words,
        foundings=frame,
        checks=checks,
        events=events,
        catches=catches,
        temperatures=temperatures,
        faulty=faulty,
        sources=tuple(replace(source, name=put(source.name)) for source in study.sources),
        not_read=tuple(put(line) for line in study.not_read),
    )
