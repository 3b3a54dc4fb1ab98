"""The page of a form: markup, style, script and words in one file.

Comes in: `FormMaterial` and a language. Goes out: HTML that asks nothing of any network: its
content policy allows the one script it carries, by its checksum, and no connection at all.
"""

from __future__ import annotations

import base64
import hashlib
import json
import tomllib
from dataclasses import asdict
from functools import cache
from importlib import resources
from typing import Any, Final

from jinja2 import Environment, StrictUndefined

from cohort.base.errors import StudyError
from cohort.desk.form.material import FormMaterial
from cohort.terms import words

LANGUAGES: Final = ("en", "de", "es", "fr")
"""Languages of which there is a file of words."""
_OFFERED: Final = ("fight", "brood-gone", "mould", "dry", "flood", "moved", "males")
"""Events that need no number and no further word, in the order of the form."""
_LEFT: Final = ("escaped", "released", "given")
"""Ways in which a queen may leave alive."""


@cache
def form_words(language: str) -> dict[str, str]:
    """Words of the form in a language.

    Raises
    ------
    StudyError
        There is no such language.
    """
    if language not in LANGUAGES:
        raise StudyError(
            f"The form is not there in '{language}'; it is in {' and '.join(LANGUAGES)}."
        )
    return tomllib.loads(_text(f"words/{language}.toml"))


def _text(name: str) -> str:
    return (resources.files("cohort.desk.form") / name).read_text(encoding="utf-8")


def render_form(material: FormMaterial, language: str = "en") -> str:
    """Text of a form.

    Parameters
    ----------
    material : FormMaterial
    language : str
        One of `LANGUAGES`; what is sent is the same in all of them.
    """
    told = form_words(language)
    script, style = _text("form.js"), _text("form.css")
    data: dict[str, Any] = asdict(material) | {
        "words": told,
        "brood": list(words.BROOD),
        "events": list(_OFFERED),
        "left": list(_LEFT),
        "ended": list(words.END_WHY),
    }
    page = Environment(autoescape=True, undefined=StrictUndefined).from_string(
        _text("form.html.j2")
    )
    return page.render(
        language=language,
        words=told,
        material=material,
        # inside a script element only "<" could end it early
        data=json.dumps(data, ensure_ascii=False).replace("<", "\\u003c"),
        script=script,
        style=style,
        script_sum=_sum(script),
        style_sum=_sum(style),
    )


def _sum(text: str) -> str:
    return base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()
