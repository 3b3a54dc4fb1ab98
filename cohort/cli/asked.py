"""What several commands are asked for, and how they answer.

What comes in: nothing. What goes out: options of the command line, and small ways of printing.
"""

from __future__ import annotations

import datetime as dt
import json
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from cohort.base.display import untied

if TYPE_CHECKING:
    from cohort.terms.voice import Voice

From = Annotated[
    Path | None,
    typer.Option(
        "--from",
        metavar="RESULTS",
        show_default=False,
        help="Folder of results to go by (this season's or last year's); without it general "
        "assumptions, the same for every genus.",
    ),
]
Language = Annotated[
    str,
    typer.Option("--language", metavar="CODE", help="Language of what is told: en, de, es or fr."),
]
AsJson = Annotated[bool, typer.Option("--json", help="Print plain values for a program.")]


@contextmanager
def misuse(option: str) -> Iterator[None]:
    """A request that cannot be met is misuse (exit code 2), told by one plain message."""
    from cohort.base.errors import StudyError

    try:
        yield
    except StudyError as fault:
        raise typer.BadParameter(str(fault), param_hint=option) from fault


@contextmanager
def heard_in(language: str) -> Iterator[None]:
    """A known fault is told in a language, where it can be said in it; English else."""
    from cohort.base.errors import CohortError
    from cohort.terms.voice import in_language

    try:
        yield
    except CohortError as fault:
        fault.args = tuple(in_language(part, language) for part in fault.args)
        raise


def spoken(language: str) -> Voice:
    """Sentences of the desk in a language; another one is misuse."""
    from cohort.terms.voice import voice

    with misuse("--language"):
        return voice("cohort.desk", language)


def day_of(text: str | None, option: str) -> dt.date:
    """Day given with an option, else today."""
    from cohort.terms.words import YEARS

    if text is None:
        return dt.date.today()
    try:
        day = dt.date.fromisoformat(text)
    except ValueError:
        raise typer.BadParameter(
            f"'{text}' is not a date. Write it as YYYY-MM-DD.", param_hint=option
        ) from None
    if not YEARS[0] <= day.year <= YEARS[1]:
        raise typer.BadParameter(
            f"'{text}': the year {day.year} cannot be right.", param_hint=option
        )
    return day


def print_json(values: dict[str, Any]) -> None:
    """Print plain values for a program."""
    typer.echo(untied(json.dumps(values, indent=2, ensure_ascii=False)))
