"""Every language that the commands speak: catalogues of sentences, numbers, dates and plurals.

What comes in: the code of a language and a room whose sentences are wanted. What goes out: a
`Voice` that fills them. A catalogue is a TOML file ``catalogue/<code>.toml`` of a room; what
several rooms say lies in `cohort.terms`. Another language is one more file in each, with the same
keys and blanks; a test compares them. Never: a number of a study, a choice of what is said.
"""

from __future__ import annotations

import datetime as dt
import re
import tomllib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cache
from importlib import resources
from types import MappingProxyType
from typing import Any, Final

from cohort.base.display import tied
from cohort.base.errors import StudyError

SHARED: Final = "cohort.terms"
"""Room of the sentences that several rooms say."""
ROOMS: Final = (
    "cohort.audit",
    "cohort.desk",
    "cohort.desk.print",
    "cohort.forecast",
    "cohort.plan",
    "cohort.power",
    "cohort.prove",
    "cohort.published",
    "cohort.sheets",
    "cohort.tonight",
)
"""Rooms that have a catalogue of their own."""
ENGLISH: Final = "en"

type Sentence = str | Mapping[str, str]


@dataclass(frozen=True)
class Told:
    """Something to be said, in whatever language.

    Attributes
    ----------
    key : str
        Of a sentence in the catalogues.
    values : mapping
        What goes into its blanks; see `Voice.write`.
    """

    key: str
    values: Mapping[str, Any]


def told(key: str, **values: Any) -> Told:
    """Something to be said."""
    return Told(key, MappingProxyType(values))


class Said(str):
    """A sentence in English that can be said again in every language.

    It is a text like any other, so that whoever reads findings in English need know nothing of it.
    Put into another text it is that text's and can no longer be said again: give it as a value of
    another `Said`.

    Parameters
    ----------
    room : str
        Whose catalogues hold the sentence, see `voice`.
    key : str
        Of the sentence.
    **values
        What goes into its blanks; see `Voice.write`.

    Attributes
    ----------
    room : str
    told : Told
    """

    __slots__ = ("room", "told")
    room: str
    told: Told

    def __new__(cls, room: str, key: str, /, **values: Any) -> Said:
        """Say it in English."""
        made = super().__new__(cls, voice(room).say(key, **values))
        made.room, made.told = room, told(key, **values)
        return made

    def __reduce__(self) -> tuple[Any, ...]:
        """Copy it by what it was made of."""
        return _said_again, (self.room, self.told.key, dict(self.told.values))


def _said_again(room: str, key: str, values: dict[str, Any]) -> Said:
    return Said(room, key, **values)


@dataclass(frozen=True)
class Clause:
    """A sentence that English tells as a part of another: without its capital and its stop.

    Other languages tell it as it is, a sentence by itself.

    Attributes
    ----------
    text : str
    """

    text: str


def in_language(text: str, language: str) -> str:
    """A text in a language, where it can be said in it; else as it is."""
    if language == ENGLISH or not isinstance(text, Said):
        return text
    return voice(text.room, language).say(text.told.key, **text.told.values)


def beside(*texts: str) -> str:
    """Sentences one after another; blank ones are left out."""
    return _folded("beside", [text for text in texts if text])


def strung(texts: Iterable[str]) -> str:
    """``a; b; c``."""
    return _folded("strung", list(texts))


def each(texts: Iterable[str]) -> str:
    """``a and b and c``."""
    return _folded("and", list(texts))


def either(texts: Iterable[str]) -> str:
    """``a or b or c``."""
    return _folded("or", list(texts))


def _folded(key: str, texts: list[str]) -> str:
    made = texts[0] if texts else ""
    for text in texts[1:]:
        made = Said(SHARED, key, first=made, last=text)
    return made


@dataclass(frozen=True)
class Voice:
    """Sentences of one language.

    Attributes
    ----------
    language : str
        Two-letter code.
    locale : str
        Of numbers, dates and plurals.
    sentences : mapping
        Key -> sentence, or key -> plural form -> sentence, chosen by the value ``n``.
    """

    language: str
    locale: str
    sentences: Mapping[str, Sentence]

    def say(self, key: str, **values: Any) -> str:
        """The sentence of a key, filled; one with plural forms needs the value ``n``."""
        form = self.sentences[key]
        if not isinstance(form, str):
            form = form.get(self._plural(values["n"]), form["other"])
        return form.format(**{name: self.write(value) for name, value in values.items()})

    def tell(self, what: Iterable[Told]) -> tuple[str, ...]:
        """Sentences, one for each thing to be said."""
        return tuple(self.say(one.key, **one.values) for one in what)

    def write(self, value: Any) -> str:
        """One value as the language writes it.

        A text is taken as it is, a float gets one place, a date is written in full, several texts
        are listed, and what is still to be said is said.
        """
        if isinstance(value, Said):
            return in_language(value, self.language)
        if isinstance(value, Clause):
            told = self.write(value.text)
            bare = f"{told[:1].lower()}{told[1:].rstrip('.')}"
            return bare if self.language == ENGLISH else told
        if isinstance(value, str):
            return value
        if isinstance(value, Told):
            return self.say(value.key, **value.values)
        if isinstance(value, dt.date):
            from babel.dates import format_date

            return spoken_day(
                str(format_date(value, format="long", locale=self.locale)), self.locale
            )
        if isinstance(value, tuple | list):
            return self.listing([self.write(one) for one in value])
        return self.decimal(value, 1 if isinstance(value, float) else 0)

    def decimal(self, value: float, places: int = 1) -> str:
        """A number with a fixed count of places."""
        if self.language == ENGLISH and not places:  # as babel does, which is slow to load
            return f"{round(value):,}"
        from babel.numbers import format_decimal

        pattern = "#,##0." + "0" * places if places else "#,##0"
        return str(format_decimal(round(value, places), pattern, locale=self.locale))

    def day(self, day: dt.date) -> str:
        """``12 Jul``, not to be broken over two lines."""
        from babel.dates import format_skeleton

        told = str(format_skeleton("MMMd", day, locale=self.locale))
        return tied(spoken_day(told, self.locale))

    def days(self, first: dt.date, last: dt.date) -> str:
        """``14-21 Jul`` or ``30 Jul-7 Aug`` with a dash, not to be broken over two lines."""
        from babel.dates import format_interval

        told = str(format_interval(first, last, "MMMd", locale=self.locale))
        return tied(re.sub(r"\s*–\s*", "–", told))

    def of_100(self, share: float) -> str:
        """A chance as so many of 100, never as certain: ``73``, ``over 99``."""
        if share < 0.01:
            return self.say("under_1")
        return self.say("over_99") if share > 0.99 else str(int(share * 100 + 0.5))

    def short_of_100(self, share: float) -> str:
        """The same for a narrow column: ``73``, ``>99``."""
        if share < 0.01:
            return "<1"
        return ">99" if share > 0.99 else str(int(share * 100 + 0.5))

    def percent(self, share: float) -> str:
        """``87 %``; never as certain."""
        if share < 0.01:
            return tied(self.say("under_1_percent"))
        if share > 0.99:
            return tied(self.say("over_99_percent"))
        return tied(f"{int(share * 100 + 0.5)} %")

    def number(self, count: int) -> str:
        """``three`` up to twelve, then figures."""
        key = f"number_{count}"
        return self.say(key) if key in self.sentences else self.decimal(count, 0)

    def listing(self, items: Iterable[str]) -> str:
        """``a, b and c``."""
        *first, last = items
        return self.say("and", first=", ".join(first), last=last) if first else last

    def cap(self, text: str) -> str:
        """The same text with a capital first letter."""
        return text[:1].upper() + text[1:]

    def _plural(self, count: int) -> str:
        if self.language == ENGLISH:  # as babel does, which is slow to load
            return "one" if count == 1 else "other"
        from babel import Locale

        return str(Locale.parse(self.locale).plural_form(count))


def spoken_day(text: str, locale: str) -> str:
    """A date as people write it: French has ``1er`` for the first of a month, which CLDR has not.

    Source: Imprimerie nationale, Lexique des règles typographiques (from memory).
    """
    return re.sub(r"\A1(?= )", "1er", text) if locale.startswith("fr") else text


def languages() -> tuple[str, ...]:
    """Codes of the languages that the commands speak."""
    here = resources.files(SHARED) / "catalogue"
    return tuple(sorted(f.name[:-5] for f in here.iterdir() if f.name.endswith(".toml")))


@cache
def voice(room: str, language: str = ENGLISH) -> Voice:
    """The voice of a room.

    Parameters
    ----------
    room : str
        One of `ROOMS`, or `SHARED` for what several rooms say alone.
    language : str
        Two-letter code.

    Raises
    ------
    StudyError
        No such language.
    """
    if language not in languages():
        known = " or ".join(languages())
        raise StudyError(f"'{language}' is no language of this command. Write {known}.")
    shared = read(SHARED, language)
    own = read(room, language)["sentences"] if room != SHARED else {}
    return Voice(language, shared["locale"], MappingProxyType({**shared["sentences"], **own}))


def read(room: str, language: str) -> dict[str, Any]:
    """A catalogue as it stands in its file."""
    file = resources.files(room) / "catalogue" / f"{language}.toml"
    return tomllib.loads(file.read_text(encoding="utf-8"))
