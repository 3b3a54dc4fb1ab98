"""Commands that make sheets and add to them: begin, bring, log, print.

What comes in: words on the command line. What goes out: files, and what was done in plain words.
No rule of the sheets is written here.
"""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from cohort.base.errors import Finding
from cohort.cli.say import echo

if TYPE_CHECKING:
    from cohort.desk.bring import Brought, Look

PANEL = "For keepers"

Folder = Annotated[
    Path, typer.Argument(help="Folder of the study.", metavar="STUDY", show_default=False)
]
Keeper = Annotated[
    str,
    typer.Option("--keeper", metavar="SIGN", help="Keeper's sign, such as K2.", show_default=False),
]


def register(app: typer.Typer) -> None:
    """Add the commands of this group."""
    from cohort.cli import print_commands

    app.command(rich_help_panel=PANEL)(begin)
    app.command(rich_help_panel=PANEL)(bring)
    app.command(rich_help_panel=PANEL)(log)
    app.add_typer(print_commands.build(), rich_help_panel=PANEL)


def begin(
    folder: Annotated[
        Path, typer.Argument(help="Folder of the new study.", metavar="DIR", show_default=False)
    ],
    keepers: Annotated[int, typer.Option("--keepers", help="How many keepers: K1, K2 ...")] = 1,
    signs: Annotated[
        str,
        typer.Option(
            "--signs",
            metavar="A,B,...",
            show_default=False,
            help="Signs of your own for the keepers instead of K1, K2 ...",
        ),
    ] = "",
    numbers: Annotated[int, typer.Option("--numbers", help="Numbers ready for each keeper.")] = 99,
    title: Annotated[
        str, typer.Option("--title", help="Title of the study.", show_default=False)
    ] = "",
    settings: Annotated[
        list[str] | None,
        typer.Option(
            "--set",
            metavar="NAME=VALUE",
            show_default=False,
            help="A setting agreed on, such as --set horizon_days=180. May be repeated.",
        ),
    ] = None,
) -> None:
    """Start a study: an empty workbook for each keeper, with numbers and drop-downs.

    Nothing that is there already is overwritten. The first tab of each workbook explains the
    words. Before the first look, agree on three things: the last day that is compared, the reasons
    for leaving a founding out, and what to do when queens fight.
    """
    from cohort.desk.begin import begin as make

    agreed = {"title": title} if title else {}
    for text in settings or []:
        name, sign, value = text.partition("=")
        if not sign:
            raise typer.BadParameter(f"'{text}': write NAME=VALUE.", param_hint="--set")
        agreed[name.strip()] = value.strip()
    own = [sign.strip() for sign in signs.split(",") if sign.strip()]
    begun = make(folder, own or keepers, numbers=numbers, settings=agreed)
    for path in begun.written:
        echo(f"Wrote {path}")
    for path in begun.left:
        echo(f"{path} was there already and was left alone.")
    echo(
        "Send each keeper the workbook. Put the filled ones back into this folder, then run: "
        f"cohort audit {folder}"
    )
    _law("begin")


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
    from cohort.base.display import several
    from cohort.desk.log import log_look, log_message, log_notes

    if undo:
        if founding or notes is not None:
            raise typer.BadParameter("--undo goes with --keeper only.")
        _take_back(study, keeper)
        return
    message = _message(notes, founding)
    if (notes is None and message is None) == (not founding):
        raise typer.BadParameter("Give either the number of a founding or --from FILE.txt.")
    if (number or other) and not event:
        raise typer.BadParameter("--number and --other belong to --event.")
    if message is not None:
        done = log_message(study, message, keeper=keeper)
    elif notes is not None:
        done = log_notes(study, notes, keeper=keeper)
    else:
        look = {
            "queens_alive": alive,
            "workers": workers,
            "brood": brood,
            "fed": fed,
            "give_or_take": give_or_take,
            "photo": photo,
        }
        on_look = any((alive, workers, brood, fed, photo)) or not event
        look = {**look, "note": note if on_look else ""}
        rare = {"event": event, "number": number, "other": other, "note": "" if on_look else note}
        done = log_look(
            study, founding, look, event=rare if event else None, date=date, keeper=keeper
        )
    _say(done.findings)
    already = several(done.already, "row")
    if done.files:
        echo(f"Wrote {several(done.rows, 'row')} to {', '.join(p.name for p in done.files)}.")
    if done.already:
        verb = "was" if done.already == 1 else "were"
        rest = "not written again" if done.files else "nothing was written"
        echo(f"{already} {verb} in already; {rest}.")


def _message(notes: Path | None, founding: str) -> bytes | None:
    """Message on standard input: with ``--from -``, or piped in where nothing else is asked for.

    A terminal is not read from, nor is what is neither a pipe nor a file: nobody would know that
    the command waits.
    """
    import os
    import stat
    import sys

    from cohort.base.errors import StudyError
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
        raise StudyError(
            f"The message is longer than {MAX_NOTES // 1_000_000} MB. Nothing was written. Save it "
            "as a file and send it in parts with --from FILE.txt."
        )
    if asked and not text.strip():
        raise StudyError("No message came in on standard input. Nothing was written.")
    return text if text.strip() else None


def _take_back(study: Path, keeper: str) -> None:
    from cohort.desk.undo import undo

    back = undo(study, keeper)
    for name, rows in back.rows.items():
        for row in rows:
            echo(f"Taken out of {name}: {row}")
    echo("The folder earlier keeps the sheets as they were.")


def bring(
    file: Annotated[
        Path,
        typer.Argument(
            help="Somebody's own table: XLSX, ODS or CSV.", metavar="MINE", show_default=False
        ),
    ],
    study: Folder,
    keeper: Keeper = "",
    tab: Annotated[
        str,
        typer.Option(
            "--tab", show_default=False, help="Tab of the workbook; the fullest if not given."
        ),
    ] = "",
    failed: Annotated[
        str,
        typer.Option(
            "--failed",
            metavar="all|some|no",
            show_default=False,
            help="Whether the ones that failed are in the file too. "
            "Only with all do its foundings enter the comparison.",
        ),
    ] = "",
    look_every: Annotated[
        int | None,
        typer.Option(
            "--look-every",
            metavar="DAYS",
            min=0,
            max=365,
            show_default=False,
            help="Days between two looks: a first worker on 12 July with 4 "
            "was not there on 8 July.",
        ),
    ] = None,
    write: Annotated[bool, typer.Option("--write", help="Put the rows into the study.")] = False,
    without_faulty: Annotated[
        bool, typer.Option("--without-faulty", help="Leave out rows that cannot be brought.")
    ] = False,
) -> None:
    """Bring somebody's own table into a study.

    Shows what each heading was taken for, and why. The same is written into a mapping file for
    you to correct; it lies in the folder brought of the study, beside the original. With --write
    the rows go into the sheets. Nothing is invented to fill a blank.
    """
    from cohort.desk.bring import look
    from cohort.desk.bring.mapping import FAILED
    from cohort.desk.bring.run import write as write_all

    if failed and failed not in FAILED:
        raise typer.BadParameter(
            f"'{failed}' is none of {', '.join(FAILED)}.", param_hint="--failed"
        )
    seen = look(file, study, keeper=keeper, tab=tab, failed=failed, look_every=look_every)
    if not seen.mapping.failed:
        answer = _ask_failed()
        if answer:
            seen = look(file, study, keeper=keeper, tab=tab, failed=answer, look_every=look_every)
    _show_look(seen)
    _law("bring")
    if not write:
        _show_trial(seen, study)
        return
    logged, brought = write_all(seen, study, without_faulty=without_faulty)
    _say((*brought.findings, *logged.findings))
    echo(
        f"Brought {len(brought.foundings)} foundings and {len(brought.checks)} looks into "
        f"{', '.join(path.name for path in logged.files)}."
    )
    if seen.mapping.failed != "all":
        echo(
            "They are left out of the comparison (left_out = other), because not all of the ones "
            "that failed are in the file."
        )


def _ask_failed() -> str:
    """Ask once; blank where nobody can answer."""
    import sys

    from cohort.desk.bring.mapping import ASK_FAILED, FAILED

    if not sys.stdin.isatty():
        return ""
    answer = str(typer.prompt(ASK_FAILED, default="", show_default=False)).strip().lower()
    return answer if answer in FAILED else ""


def _show_look(seen: Look) -> None:
    from cohort.cli.say import table

    where = f"{seen.grid.file}, tab {seen.grid.tab}" if seen.grid.tab else seen.grid.file
    echo(f"{where}: {len(seen.grid.rows)} rows.")
    table(
        ("heading", "taken for", "why"),
        [(t.heading, t.field or "(not used)", t.why) for t in seen.taken],
    )
    echo(f"Mapping to correct: {seen.mapping_file}")
    echo(f"Original kept as:   {seen.original}  (sha256 {seen.mapping.sha256})")


def _show_trial(seen: Look, study: Path) -> None:
    from cohort.desk.bring.run import sheets_of, trial

    brought: Brought = trial(seen, sheets_of(study), study)
    _say(brought.findings)
    echo(
        f"{len(brought.foundings)} foundings and {len(brought.checks)} looks would be "
        "brought. Nothing was written to the sheets; add --write to do so."
    )
    if not seen.mapping.failed:
        echo(
            "One question is open: are the ones that failed in this file too? Answer with --failed "
            "all, some or no."
        )
    if any(finding.level == "error" for finding in brought.findings):
        raise typer.Exit(1)


def _law(place: str) -> None:
    """The caution of a command: one line, law first."""
    from cohort.sheets.cautions import LINES

    echo(LINES[place])


def _say(findings: Iterable[Finding]) -> None:
    from cohort.audit.show import lines
    from cohort.cli.say import width

    for line in lines(tuple(findings), width=width()):
        echo(line)
