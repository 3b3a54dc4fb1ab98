"""Every sentence of the page, one file per language.

In comes the code of a language; out comes its `Catalogue`. Another language is one more TOML file
with the same keys and the same blanks; a test compares them. Never holds a number of a study.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from importlib import resources

from cohort.base.errors import StudyError
from cohort.figures.labels import Labels, read_labels


@dataclass(frozen=True)
class Catalogue:
    """All sentences of one language.

    Parameters
    ----------
    language : str
        Two-letter code.
    locale : str
        Locale of numbers, dates and plurals.
    labels : Labels
        Words inside pictures.
    sentences : mapping
        Key -> sentence, or key -> plural form -> sentence, chosen by the value `n`.
    groups : mapping of int to mapping
        What so many queens kept as one lot are called, by plural form; 0 stands for any other.
    """

    language: str
    locale: str
    labels: Labels
    sentences: Mapping[str, str | Mapping[str, str]]
    groups: Mapping[int, Mapping[str, str]]


def languages() -> tuple[str, ...]:
    """Codes of the languages that have a file here."""
    here = resources.files(__name__)
    return tuple(sorted(f.name[:-5] for f in here.iterdir() if f.name.endswith(".toml")))


def load(language: str) -> Catalogue:
    """Catalogue of a language.

    Raises
    ------
    StudyError
        When there is none.
    """
    if language not in languages():
        known = ", ".join(languages())
        raise StudyError(f"No page in '{language}'. Languages that can be had: {known}.")
    text = (resources.files(__name__) / f"{language}.toml").read_text(encoding="utf-8")
    found = tomllib.loads(text)
    return Catalogue(
        language=language,
        locale=found["locale"],
        labels=read_labels(language),
        sentences=found["sentences"],
        groups={int(count): forms for count, forms in found["groups"].items()},
    )
