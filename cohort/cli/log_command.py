"""The command log: looks and events from the command line, notes, a message; second thoughts.

What comes in: words on the command line, a file or standard input. What goes out: rows in the
sheets, and what was done in plain words. No rule of the sheets is written here.
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from cohort.cli.asked import Language, heard_in, spoken
from cohort.cli.say import echo, findings_told
from cohort.cli.sheets_commands import Folder, Keeper

if TYPE_CHECKING:
    from cohort.desk.log import Logged
    from cohort.terms.voice import Voice


def log(
    study: Folder,
    founding: Annotated[
        str,
        typer.Argument(
            help="Number of the founding, such as K2-07; or rest (all the others) with "
            "--alive same.",
            metavar="[FOUNDING]",
            show_default=False,
        ),
    ] = "",
    wrong: Annotated[
        str,
        typer.Argument(
            help="With --correct: day of the look that is wrong.",
            metavar="[DAY]",
            show_default=False,
        ),
    ] = "",
    notes: Annotated[
        Path | None,
        typer.Option(
            "--from",
            metavar="FILE.txt",
            show_default=False,
            help="Add every line of a file of check notes or of a chat instead; with - what comes "
            "in on standard input.",
        ),
    ] = None,
    date: Annotated[
        str,
        typer.Option(
            "--date",
            metavar="DATE",
            show_default=False,
            help="Day of the look (YYYY-MM-DD); today if not given.",
        ),
    ] = "",
    alive: Annotated[
        str,
        typer.Option(
            "--alive",
            metavar="N",
            show_default=False,
            help="Living queens: 3, 5+ (at least five), or same.",
        ),
    ] = "",
    workers: Annotated[
        str,
        typer.Option(
            "--workers", metavar="N", show_default=False, help="Workers, pale ones too: 0, 7, 10+."
        ),
    ] = "",
    brood: Annotated[
        str,
        typer.Option(
            "--brood",
            metavar="STAGE",
            show_default=False,
            help="Furthest stage: none, eggs, larvae, pupae.",
        ),
    ] = "",
    fed: Annotated[
        str,
        typer.Option("--fed", metavar="yes|no", show_default=False, help="Whether food was given."),
    ] = "",
    give_or_take: Annotated[
        str,
        typer.Option(
            "--give-or-take",
            metavar="DAYS",
            show_default=False,
            help="Days by which the date may be wrong.",
        ),
    ] = "",
    photo: Annotated[
        str,
        typer.Option(
            "--photo",
            metavar="FILE",
            show_default=False,
            help="Photograph, by its name in the folder of the study.",
        ),
    ] = "",
    note: Annotated[
        str, typer.Option("--note", help="Anything else; never printed.", show_default=False)
    ] = "",
    event: Annotated[
        str,
        typer.Option(
            "--event",
            metavar="WORD",
            show_default=False,
            help="What happened after the look, such as fight, moved, queens-out, end.",
        ),
    ] = "",
    number: Annotated[
        str,
        typer.Option(
            "--number", metavar="N", show_default=False, help="How many queens the event speaks of."
        ),
    ] = "",
    other: Annotated[
        str,
        typer.Option(
            "--other",
            metavar="WORD",
            show_default=False,
            help="Where the queens went, why the founding ended, or what was killed.",
        ),
    ] = "",
    keeper: Keeper = "",
    language: Language = "en",
    corrects: Annotated[
        bool,
        typer.Option(
            "--correct",
            help="Correct the look of a day: number, day, and what is right; - for a count "
            "nobody looked for; --date if the day was wrong.",
        ),
    ] = False,
    undo: Annotated[
        bool,
        typer.Option(
            "--undo", help="Take back the last entry of log, or with --keeper that keeper's last."
        ),
    ] = False,
) -> None:
    """Add a look or an event to the CSV file of its keeper.

    The row is audited first. If it has an error, nothing is written; what is in already is not
    written again. The folder earlier keeps the last 10 versions of the sheet. If the sheet is a
    link, the file behind it gets the row. A workbook is never written to.

    A message that is piped in, or comes from a file (<), needs no --from.
    """
    from cohort.desk.correct import correct
    from cohort.desk.log import log_look, log_message, log_notes

    own = spoken(language)
    look = {
        "queens_alive": alive,
        "workers": workers,
        "brood": brood,
        "fed": fed,
        "give_or_take": give_or_take,
        "photo": photo,
    }
    rare = {"event": event, "number": number, "other": other}
    if undo:
        if founding or notes is not None or corrects:
            raise typer.BadParameter("--undo goes with --keeper only.")
        with heard_in(language):
            _take_back(study, keeper, own)
        return
    if corrects:
        right = {**look, "note": note}
        if not (founding and wrong) or not (date or any(right.values())) or any(rare.values()):
            raise typer.BadParameter(_HOW_TO_CORRECT)
        with heard_in(language):
            _wrote(correct(study, founding, wrong, right, new_date=date, keeper=keeper), own)
        return
    if wrong:
        raise typer.BadParameter(f"'{wrong}': a day behind the number goes with --correct only.")
    with heard_in(language):
        message = _message(notes, founding)
    if (notes is None and message is None) == (not founding):
        raise typer.BadParameter("Give either the number of a founding or --from FILE.txt.")
    if (number or other) and not event:
        raise typer.BadParameter("--number and --other belong to --event.")
    with heard_in(language):
        if message is not None:
            done = log_message(study, message, keeper=keeper)
        elif notes is not None:
            done = log_notes(study, notes, keeper=keeper)
        else:
            on_look = any((alive, workers, brood, fed, photo)) or not event
            look = {**look, "note": note if on_look else ""}
            rare = {**rare, "note": "" if on_look else note}
            happened = rare if event else None
            done = log_look(study, founding, look, event=happened, date=date, keeper=keeper)
    _wrote(done, own)


def _wrote(done: Logged, own: Voice) -> None:
    findings_told(done.findings, own.language)
    if done.files:
        names = ", ".join(path.name for path in done.files)
        echo(own.say("wrote", n=done.rows, files=names))
    if done.already:
        echo(own.say("in_already" if done.files else "in_already_all", n=done.already))


_HOW_TO_CORRECT = (
    "Give the number, the day of the look and what is right, such as: --correct K1-03 "
    "2026-07-12 --alive 2. An event is corrected with --undo, or in its sheet."
)


def _message(notes: Path | None, founding: str) -> bytes | None:
    """Message on standard input: with ``--from -``, or piped in where nothing else is asked for.

    A terminal is not read from, nor is what is neither a pipe nor a file: nobody would know that
    the command waits.
    """
    import os
    import stat
    import sys

    from cohort.base.errors import StudyError
    from cohort.desk.sentences import tell
    from cohort.sheets.files import MAX_NOTES

    asked = notes is not None and str(notes) == "-"
    if not asked and (notes is not None or founding):
        return None
    try:
        kind = os.fstat(sys.stdin.fileno()).st_mode
        if not asked and not (stat.S_ISFIFO(kind) or stat.S_ISREG(kind)):
            return None
        text = sys.stdin.buffer.read(MAX_NOTES + 1)
    except (OSError, ValueError, AttributeError):
        text = b""
    if len(text) > MAX_NOTES:
        raise StudyError(tell("message_long", millions=str(MAX_NOTES // 1_000_000)))
    if asked and not text.strip():
        raise StudyError(tell("message_none"))
    return text if text.strip() else None


def _take_back(study: Path, keeper: str, own: Voice) -> None:
    from cohort.desk.undo import undo
    from cohort.sheets.append import EARLIER

    back = undo(study, keeper)
    for name, rows in back.rows.items():
        for row in rows:
            echo(own.say("took_out", file=name, row=row))
    for name in back.lists:
        echo(own.say("took_list", name=name))
    for name, why in back.kept.items():
        echo(own.say(f"list_{why}", name=name))
    echo(own.say("took_kept", folder=EARLIER))
