"""Commands between clubs: pack a study to send it, merge what was sent.

What comes in: words on the command line. What goes out: a file to send; rows added, and conflicts
told row by row.
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from cohort.cli.asked import Language, heard_in, spoken
from cohort.cli.say import echo

if TYPE_CHECKING:
    from cohort.desk.share import Conflict, Merged
    from cohort.terms.voice import Voice

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
    language: Language = "en",
) -> None:
    """Make one file of a study, to send to the club.

    It holds the sheets and the drawn lists. Places of catches, photographs and notes stay at home
    (--notes sends notes), and so do keepers unless the study shows them (show_keepers). Numbers
    go along as they are.
    """
    from cohort.base.errors import StudyError
    from cohort.desk.sentences import tell
    from cohort.desk.share import pack as packed
    from cohort.sheets.append import safe_name
    from cohort.sheets.put import replace

    own = spoken(language)
    path = out or Path(f"{safe_name(study.resolve().name)}.zip")
    with heard_in(language):
        made = packed(study, notes=notes)
        if path.exists() and not path.read_bytes()[:2] == b"PK":
            raise StudyError(tell("pack_there", path=str(path)))
    path.parent.mkdir(parents=True, exist_ok=True)
    replace(path, made.data)
    rows = ", ".join(f"{sheet} {count}" for sheet, count in made.rows.items())
    echo(own.say("packed", path=str(path), rows=rows))
    for sheet, names in made.left_out.items():
        echo(own.say("left_out", sheet=sheet, columns=", ".join(names)))
    if made.names_kept:
        echo(own.say("names_kept", names=", ".join(made.names_kept)))
    echo(own.say("pack_next"))


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
    language: Language = "en",
) -> None:
    """Add what was sent to a study: new rows only, and nothing twice.

    A row that says something else here is a conflict: both are shown with their places, and
    neither is touched (exit code 1). Rows that hang on it wait, too. 'cohort log STUDY --undo'
    takes the new rows back.
    """
    from cohort.desk.share import merge as merged

    own = spoken(language)
    unsettled = False
    for one in sent:
        with heard_in(language):
            done = merged(study, one)
        if len(sent) > 1:
            echo(f"{one}:")
        _told(done, study, own)
        unsettled = unsettled or bool(done.conflicts)
    if unsettled:
        raise typer.Exit(1)


def _told(done: Merged, study: Path, own: Voice) -> None:
    from cohort.desk.sentences import placed

    rows = ", ".join(f"{sheet} {count}" for sheet, count in done.rows.items())
    if done.files:
        names = ", ".join(path.relative_to(study).as_posix() for path in done.files)
        said = own.say("merged_rows", files=names, rows=rows)
        echo(said if rows else own.say("merged_files", files=names))
        echo(own.say("merged_back", study=str(study)))
    else:
        echo(own.say("merged_none"))
    if done.already:
        echo(own.say("merged_already", n=done.already))
    blank = own.say("blank")
    for name, ours, theirs in done.settings:
        echo(own.say("merged_setting", name=name, ours=ours or blank, theirs=theirs or blank))
    for finding in done.findings:
        if finding.level == "warning":
            echo(own.say("merged_warning", text=placed(finding)))
    for conflict in done.conflicts[:SHOWN]:
        for line in _lines(conflict, own):
            echo(line)
    more = len(done.conflicts) - SHOWN
    if more > 0:
        echo(own.say("conflicts_more", n=more))
    if done.conflicts:
        waits = own.say("conflicts_wait", n=len(done.held)) if done.held else ""
        echo(f"{own.say('conflicts', n=len(done.conflicts))} {waits}".rstrip())


def _lines(one: Conflict, own: Voice) -> list[str]:
    out, blank = [own.say("conflict", sheet=one.sheet, what=one.what)], own.say("blank")
    for name, ours, theirs in one.values:
        places = {"here": one.ours, "there": one.theirs}
        told = own.say(
            "conflict_value", name=name, ours=ours or blank, theirs=theirs or blank, **places
        )
        out.append(f"  {told}")
    if not one.values:
        out.append(f"  {own.say('conflict_sent', place=one.theirs)}")
    return [*out, f"  {own.write(one.remedy)}"]
