"""Command of the sceptic: ``cohort prove``.

What comes in: what was typed. What goes out: a page on the screen and in a file, exit code 1 where
a part fails. No statistics is written here.
"""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from cohort.cli.asked import AsJson, Language, misuse, print_json
from cohort.cli.progress import progress, told_of_first_run
from cohort.cli.say import echo

PANEL = "For analysts"


def prove(
    out: Annotated[
        Path | None,
        typer.Option(
            "--out", metavar="FILE", show_default=False, help="New file to keep the page in."
        ),
    ] = None,
    parts: Annotated[
        str,
        typer.Option(
            "--parts",
            metavar="NAME,...",
            show_default=False,
            help="by_hand, recovered, second, outside, calibrated; all if left out.",
        ),
    ] = "",
    seed: Annotated[
        int, typer.Option("--seed", min=0, help="Added to the seed of every part.")
    ] = 0,
    language: Language = "en",
    as_json: AsJson = False,
) -> None:
    """Prove on this machine that the numbers can be trusted, with what would have been a failure.

    Two examples worked on paper; a simulated club whose truth is known; textbook methods about the
    same club; a published posterior that can be had exactly; twenty studies in which the truth must
    lie where the ranges say. A few minutes. Exit code 1 if a part fails.
    """
    from cohort.base import disk
    from cohort.base.errors import StudyError
    from cohort.cli.stop import keeps
    from cohort.prove import PARTS, words
    from cohort.prove import prove as proved

    with misuse("--language"):
        own = words.speaks(language)
    with misuse("--out"):
        if out is not None and (out.exists() or not out.parent.is_dir()):
            raise StudyError(f"{out} is there already, or its folder is not. Name a new file.")
    keeps(lambda: "Nothing was written.")
    asked = [name.strip() for name in parts.split(",") if name.strip()] or PARTS
    with progress(as_json) as tell, misuse("--parts"):
        told_of_first_run(tell)
        found = proved(asked, seed=seed, say=tell)
    text = words.page(found, own)
    if out is not None:
        disk.put(out, text)
    if as_json:
        print_json(words.as_json(found, own))
    else:
        typer.echo(text)
        if out is not None:
            echo(own.say("wrote", path=str(out)))
    if not found.holds:
        raise typer.Exit(1)


def register(app: typer.Typer) -> None:
    """Add the commands of this group."""
    app.command(rich_help_panel=PANEL)(prove)
