"""Commands for keepers: audit, demo.

What comes in: words on the command line. What goes out: what the commands print, and the files
they are asked for. No rule of the sheets is written here.
"""

from __future__ import annotations

from itertools import batched
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from cohort.base.display import several, tied
from cohort.cli.asked import AsJson, Language, day_of, misuse, print_json
from cohort.cli.form import form
from cohort.cli.say import echo, table, width

if TYPE_CHECKING:
    from cohort.audit import Examined
    from cohort.base.errors import Finding
    from cohort.sheets.found import Found
    from cohort.terms.voice import Voice

PANEL = "For keepers"
_AT_ONCE = 500  # lines: each print waits for the terminal

Folder = Annotated[
    Path, typer.Argument(help="Folder of the study.", metavar="STUDY", show_default=False)
]
Today = Annotated[
    str | None,
    typer.Option(
        "--today", help="Take this day (YYYY-MM-DD) for today.", metavar="DATE", show_default=False
    ),
]


def register(app: typer.Typer) -> None:
    """Add the commands of this group."""
    app.command(rich_help_panel=PANEL)(audit)
    app.command(rich_help_panel=PANEL)(demo)
    app.command(rich_help_panel=PANEL)(form)


def demo(
    folder: Annotated[Path, typer.Argument(help="New folder.", metavar="DIR", show_default=False)],
    second_year: Annotated[
        bool,
        typer.Option(
            "--second-year",
            help="Two of its keepers one year on and one who joins: through winter, new foundings.",
        ),
    ] = False,
) -> None:
    """Copy the demo season, an invented club's sheets, into a folder to try the commands on."""
    from cohort.cli.stop import keeps
    from cohort.desk.demo import write_demo
    from cohort.sheets.cautions import LINES

    keeps(lambda: f"The sheets in {folder} are not whole: delete them.")
    sheets = write_demo(folder, second_year=second_year)
    what = "two invented seasons" if second_year else "an invented season"
    echo(f"Wrote {several(len(sheets), 'sheet')} of {what} into {folder}.")
    echo(f"Then: cohort audit {folder}")
    echo(f"Or:   cohort newsletter {folder} --out page")
    echo("Never quote its numbers: nobody kept these queens.")
    echo(LINES["demo"])


def audit(
    study: Folder,
    strict: Annotated[bool, typer.Option("--strict", help="Let warnings count as errors.")] = False,
    letters: Annotated[
        Path | None,
        typer.Option(
            "--letters",
            metavar="DIR",
            show_default=False,
            help="Write a letter for each keeper into this folder.",
        ),
    ] = None,
    every: Annotated[
        bool,
        typer.Option("--every", help="Show every finding by itself, and not like ones together."),
    ] = False,
    today: Today = None,
    as_json: AsJson = False,
    language: Language = "en",
) -> None:
    """Find mistakes in the sheets: where, what, and what to do.

    An error makes a row unusable, a warning wants a look, a note only tells. Nothing is changed
    in the sheets.
    """
    from cohort.audit import examine
    from cohort.audit.show import speaks
    from cohort.sheets.folder import read_folder
    from cohort.sheets.lists import against_lists, read_lists

    now = day_of(today, "--today")
    with misuse("--language"):
        own = speaks(language)
    sheets = read_folder(study)
    examined = examine(sheets, now)
    told = against_lists(examined.tables["foundings"], read_lists(study))
    findings = examined.findings + told
    if as_json:
        files = [source.name for source in sheets.sources]
        print_json(_plain(examined, findings, files, language))
    else:
        _tell(examined, findings, len(sheets.sources), every, own)
    if letters is not None:
        from cohort.audit.letters import file_name
        from cohort.audit.letters import letters as written
        from cohort.audit.looks import HANDED

        title = examined.settings.title
        events = examined.seen.events
        over = events[events["event"] == HANDED]
        handed = dict(zip(over["founding"].astype(str), over["other"].astype(str), strict=True))
        texts = written(findings, examined.tables["foundings"], title, now, language, handed)
        _write(letters, {file_name(keeper): text for keeper, text in texts.items()}, as_json, own)
    if len(findings.of_level("error")) or (strict and len(findings.of_level("warning"))):
        raise typer.Exit(1)


def _tell(examined: Examined, findings: Found, files: int, every: bool, own: Voice) -> None:
    """Print the findings and what was read."""
    from cohort.audit.show import by_file, counted, lines
    from cohort.base.errors import LEVELS

    told = lines(findings, width=width(), every=every, language=own.language)
    for some in batched(told, _AT_ONCE):
        typer.echo("\n".join(some))
    rows = by_file(findings, own.language)
    if len(rows) > 1:  # where to begin
        echo("")
        head = (own.say("head_file"), *(own.say(f"head_{level}") for level in LEVELS))
        table(head, [(tied(name), *counts) for name, *counts in rows], own=own)
        echo("")
    foundings, looks = len(examined.tables["foundings"]), len(examined.seen.looks)
    echo(
        own.say(
            "summary",
            foundings=own.say("foundings", n=foundings),
            looks=own.say("looks", n=looks),
            files=own.say("files", n=files),
            counted=counted(findings, own.language),
        )
    )


def _plain(
    examined: Examined, findings: Found, files: list[str], language: str
) -> dict[str, object]:
    """The same as plain values; a row of 0 and a blank text belong to no row, column, founding."""
    from dataclasses import asdict

    from cohort.base.errors import LEVELS
    from cohort.terms.voice import in_language

    def values(finding: Finding) -> dict[str, object]:
        again = {name: in_language(getattr(finding, name), language) for name in ("what", "remedy")}
        return {**asdict(finding), **again}

    return {
        "foundings": len(examined.tables["foundings"]),
        "looks": len(examined.seen.looks),
        "files": files,
        "counts": {level: len(findings.of_level(level)) for level in LEVELS},
        "findings": [values(finding) for finding in findings],
    }


def _write(folder: Path, texts: dict[str, str], quiet: bool, own: Voice) -> None:
    from cohort.sheets.put import replace

    folder.mkdir(parents=True, exist_ok=True)
    for name, text in texts.items():
        replace(folder / name, text.encode("utf-8"))
        echo(own.say("wrote", path=str(folder / name)), err=quiet)
    if not texts:
        echo(own.say("letter_none"), err=quiet)
