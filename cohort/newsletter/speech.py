"""From a catalogue of sentences to one spoken sentence.

In comes a language; out comes a `Voice` that fills the sentences of that language, chooses
singular and plural and writes numbers and dates as that language does (through babel). Names in
italics are wrapped in two marks that the page, the plain text and the print file each turn into
their own italics. Never decides what is said.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

from babel import Locale
from babel.dates import format_date
from babel.numbers import format_decimal

from cohort.figures.labels import Labels
from cohort.figures.names import kind_text, of_100
from cohort.newsletter.catalogue import Catalogue, load
from cohort.terms.voice import spoken_day

ITALIC, UPRIGHT = "\ue000", "\ue001"
"""Private-use signs round a name in italics; taken out of everything a keeper wrote."""


@dataclass(frozen=True)
class Voice:
    """A catalogue that speaks."""

    catalogue: Catalogue

    @property
    def labels(self) -> Labels:
        """Words inside pictures."""
        return self.catalogue.labels

    def say(self, key: str, **values: Any) -> str:
        """The sentence of a key, filled.

        Whole numbers and floats are written as the language does (floats with one place), dates
        in full; a text is taken as it is. A sentence with plural forms needs the value `n`.
        """
        form = self.catalogue.sentences[key]
        if not isinstance(form, str):
            form = self._form(form, values["n"])
        return form.format(**{name: self.write(value) for name, value in values.items()})

    def write(self, value: Any) -> str:
        """One value as the language writes it."""
        if isinstance(value, str):
            return value
        if isinstance(value, dt.date):
            locale = self.catalogue.locale
            return spoken_day(str(format_date(value, format="long", locale=locale)), locale)
        if isinstance(value, float):
            return self.decimal(value)
        return _written(value, None, self.catalogue.locale)

    def decimal(self, value: float, places: int = 1) -> str:
        """A number with a fixed count of places."""
        pattern = "#,##0." + "0" * places if places else "#,##0"
        return _written(round(value, places), pattern, self.catalogue.locale)

    def chance(self, share: float) -> str:
        """A chance as 'about n of 100', never as certain."""
        count = of_100(share)
        if share < 0.01:
            return self.say("under_1")
        if share > 0.99:
            return self.say("over_99")
        return self.write(count)

    def percent(self, share: float) -> str:
        """A chance as a cell of a table: a whole percent, never as certain; a dash for none."""
        if share != share:
            return "–"
        if share < 0.01 or share > 0.99:
            return "<1" if share < 0.01 else ">99"
        return self.write(of_100(share))

    def word(self, count: int) -> str:
        """'three' up to twelve, then figures."""
        return self.labels.numbers.get(count, self.write(count))

    def cap(self, text: str) -> str:
        """The same text with a capital first letter."""
        return text[:1].upper() + text[1:]

    def group(self, size: int, count: int = 100) -> str:
        """'pairs', 'trios', 'sets of 4'; of one: 'trio'."""
        groups = self.catalogue.groups
        return self._form(groups.get(size, groups[0]), count).format(k=size)

    def based(self, single: int, multi: int, size: int) -> str:
        """'36 single queens and 26 trios'; what there is none of is left out."""
        parts = [self.say("singles", n=single)] if single else []
        parts += [f"{self.write(multi)} {self.group(size, multi)}"] if multi else []
        return self.listing(parts)

    def some_queens(self, count: int, genus: str = "", named: bool = False) -> str:
        """'three queens', 'three Lasius queens', 'three queens of kind brown (not yet named)'."""
        key = "queens_any" if not genus else "queens_named" if named else "queens_unnamed"
        return self.say(key, k=self.word(count), kind=self.kind(genus, named) if genus else "")

    def _form(self, forms: Mapping[str, str], count: int) -> str:
        """The form that goes with a count."""
        rule = Locale.parse(self.catalogue.locale).plural_form
        return forms.get(str(rule(count)), forms["other"])

    def kind(self, genus: str, named: bool) -> str:
        """Name of a kind, marked where it is set in italics."""
        text, italic = kind_text(plain(genus), named, self.labels)
        return f"{ITALIC}{text}{UPRIGHT}" if italic else text

    def listing(self, items: list[str]) -> str:
        """'a, b and c'."""
        if len(items) < 2:
            return "".join(items)
        return self.say("and", first=", ".join(items[:-1]), last=items[-1])

    def strung(self, items: Iterable[str]) -> str:
        """'a; b; c', with the signs as the language sets them."""
        first, *rest = list(items) or [""]
        for one in rest:
            first = self.say("strung", first=first, last=one)
        return first


@lru_cache(maxsize=10_000, typed=True)
def _written(value: float, pattern: str | None, locale: str) -> str:
    """A number as babel writes it; a page writes the same few tens of thousands of times."""
    return str(format_decimal(value, pattern, locale=locale))


def voice(language: str = "en") -> Voice:
    """The voice of a language.

    Raises
    ------
    StudyError
        When there is no catalogue of that language.
    """
    return Voice(load(language))


def plain(text: str) -> str:
    """A keeper's text on one line, without the signs that mean italics here."""
    kept = "".join(
        c if c.isprintable() else " " for c in str(text) if c not in (ITALIC, UPRIGHT, "\0")
    )
    return " ".join(kept.split())


def without_marks(text: str) -> str:
    """Text with the italics marks taken out."""
    return text.replace(ITALIC, "").replace(UPRIGHT, "")
