"""Commands between clubs: pack a study to send it, merge what was sent.

What comes in: words on the command line. What goes out: a file to send; rows added, and conflicts
told row by row.
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from cohort.cli.say import echo

if TYPE_CHECKING:
    from cohort.desk.share import Conflict, Merged

PANEL = "For the club"
SHOWN = 40
"""Conflicts told one by one; of more the count is told."""


def register(app: typer.Typer) -> None:
    """Add the commands of this group."""
    app.command(rich_help_panel=PANEL)(pack)
    app.command(rich_help_panel=PANEL)(merge)


Study = Annotated[
    Path, typer.Argument(help="Folder of the study.", metavar="STUDY", show_default=False)
]


def pack(
    study: Study,
    out: Annotated[
        Path | None,
        typer.Option(
            "--out",
            metavar="FILE.zip",
            show_default=False,
            help="Where the file goes; named after the study, in this folder, if not given.",
        ),
    ] = None,
    notes: Annotated[
        bool, typer.Option("--notes", help="Send the notes, too. Read them first.")
    ] = False,
) -> None:
    """Make one file of a study, to send to the club.

    It holds the sheets and the drawn lists. Places of catches, photographs and notes stay at home
    (--notes sends notes), and so do keepers unless the study shows them (show_keepers). Numbers
    go along as they are.
    """
    from cohort.base.errors import StudyError
    from cohort.desk.share import pack as packed
    from cohort.sheets.append import safe_name
    from cohort.sheets.put import replace

    path = out or Path(f"{safe_name(study.resolve().name)}.zip")
    made = packed(study, notes=notes)
    if path.exists() and not path.read_bytes()[:2] == b"PK":
        raise StudyError(
            f"{path} is there already and is no packed study; it was not written over. Give "
            "another name with --out."
        )
    path.parent.mkdir(parents=True, exist_ok=True)
    replace(path, made.data)
    rows = ", ".join(f"{sheet} {count}" for sheet, count in made.rows.items())
    echo(f"Wrote {path}: rows of {rows}.")
    for sheet, names in made.left_out.items():
        echo(f"Left out of {sheet}: {', '.join(names)}.")
    if made.names_kept:
        echo(
            f"Founding numbers are sent as they are, and so is to whom foundings were handed over: "
            f"{', '.join(made.names_kept)} in them may be a name."
        )
    echo("The other side adds it with: cohort merge STUDY FILE")


def merge(
    study: Study,
    sent: Annotated[
        list[Path],
        typer.Argument(
            help="What was sent: files made with pack, or folders.",
            metavar="SENT...",
            show_default=False,
        ),
    ],
) -> None:
    """Add what was sent to a study: new rows only, and nothing twice.

    A row that says something else here is a conflict: both are shown with their places, and
    neither is touched (exit code 1). Rows that hang on it wait, too. 'cohort log STUDY --undo'
    takes the new rows back.
    """
    from cohort.desk.share import merge as merged

    unsettled = False
    for one in sent:
        done = merged(study, one)
        if len(sent) > 1:
            echo(f"{one}:")
        _told(done, study)
        unsettled = unsettled or bool(done.conflicts)
    if unsettled:
        raise typer.Exit(1)


def _told(done: Merged, study: Path) -> None:
    rows = ", ".join(f"{sheet} {count}" for sheet, count in done.rows.items())
    if done.files:
        names = ", ".join(path.relative_to(study).as_posix() for path in done.files)
        echo(f"Added to {names}: rows of {rows}." if rows else f"Added {names}.")
        echo(f"To take it back: cohort log {study} --undo")
    else:
        echo("Nothing new.")
    if done.already:
        echo(f"{_rows(done.already)} in already.")
    for name, ours, theirs in done.settings:
        echo(f"Setting {name}: {ours or 'blank'} here, {theirs or 'blank'} there. Yours stays.")
    for finding in done.findings:
        if finding.level == "warning":
            echo(f"Warning: {finding}")
    for conflict in done.conflicts[:SHOWN]:
        for line in _lines(conflict):
            echo(line)
    if len(done.conflicts) > SHOWN:
        echo(f"... and {len(done.conflicts) - SHOWN} more conflicts.")
    if done.conflicts:
        waits = f" {_rows(len(done.held))} that hang on them wait, too." if done.held else ""
        echo(f"{_count(len(done.conflicts))}: these rows were not written.{waits}")


def _lines(one: Conflict) -> list[str]:
    out = [f"CONFLICT in {one.sheet}: {one.what}"]
    for name, ours, theirs in one.values:
        out.append(
            f"  {name}: {ours or 'blank'} here ({one.ours}), {theirs or 'blank'} sent "
            f"({one.theirs})"
        )
    if not one.values:
        out.append(f"  sent: {one.theirs}")
    return [*out, f"  {one.remedy}"]


def _rows(count: int) -> str:
    return "1 row" if count == 1 else f"{count} rows"


def _count(count: int) -> str:
    return "1 conflict" if count == 1 else f"{count} conflicts"
