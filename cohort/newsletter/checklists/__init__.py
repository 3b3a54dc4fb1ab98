"""Items of the reporting guidelines in our own short words, one file per language.

In comes the code of a language; out come its texts. Never holds a number of a study.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from importlib import resources


def load(language: str) -> Mapping[str, Mapping[str, str]]:
    """Texts of a language: ``arrive``, ``strobe`` and ``barg`` by item number, and ``fill``."""
    text = (resources.files(__name__) / f"{language}.toml").read_text(encoding="utf-8")
    return tomllib.loads(text)
