"""Commands that make sheets and add to them: begin, bring, print; `log` has a file of its own.

What comes in: words on the command line. What goes out: files, and what was done in plain words.
No rule of the sheets is written here.
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from cohort.cli.asked import Language, heard_in, spoken
from cohort.cli.say import echo, findings_told

if TYPE_CHECKING:
    from cohort.desk.bring import Brought, Look
    from cohort.terms.voice import Voice

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
    from cohort.cli.log_command import log

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
    date_order: Annotated[
        str,
        typer.Option(
            "--date-order",
            metavar="dmy|mdy|ymd",
            show_default=False,
            help="How dates typed as text are read, where the table and the study do not tell.",
        ),
    ] = "",
    under_dates: Annotated[
        str,
        typer.Option(
            "--under-dates",
            metavar="WHAT",
            show_default=False,
            help="What the numbers below the days count: queens, workers or queens/workers.",
        ),
    ] = "",
    write: Annotated[bool, typer.Option("--write", help="Put the rows into the study.")] = False,
    without_faulty: Annotated[
        bool, typer.Option("--without-faulty", help="Leave out rows that cannot be brought.")
    ] = False,
    language: Language = "en",
) -> None:
    """Bring somebody's own table into a study.

    Shows what each heading was taken for, and why. The same is written into a mapping file for
    you to correct; it lies in the folder brought of the study, beside the original. A day may
    stand above each column. With --write the rows go into the sheets. Nothing is invented to fill
    a blank. When the table has grown, bring it again: only what is new goes in.
    """
    from cohort.desk.bring import look
    from cohort.desk.bring.mapping import FAILED
    from cohort.desk.bring.run import write as write_all
    from cohort.desk.bring.wide import UNDER_DATES
    from cohort.terms.words import DATE_ORDER

    if under_dates and under_dates not in UNDER_DATES:
        raise typer.BadParameter(
            f"'{under_dates}' is none of {', '.join(UNDER_DATES)}.", param_hint="--under-dates"
        )
    if failed and failed not in FAILED:
        raise typer.BadParameter(
            f"'{failed}' is none of {', '.join(FAILED)}.", param_hint="--failed"
        )
    if date_order and date_order not in DATE_ORDER:
        raise typer.BadParameter(
            f"'{date_order}' is none of {', '.join(DATE_ORDER)}.", param_hint="--date-order"
        )
    own = spoken(language)
    asked: dict[str, Any] = {"keeper": keeper, "tab": tab, "look_every": look_every}
    asked |= {"date_order": date_order, "under_dates": under_dates}
    with heard_in(language):
        seen = look(file, study, failed=failed, **asked)
        if not seen.mapping.failed:
            answer = _ask_failed(own)
            if answer:
                seen = look(file, study, failed=answer, **asked)
        _show_look(seen, own)
        _law("bring", own)
        if not write:
            _show_trial(seen, study, own)
            return
        logged, brought = write_all(seen, study, without_faulty=without_faulty)
    findings_told((*brought.findings, *logged.findings), language)
    files = ", ".join(path.name for path in logged.files)
    if files:
        echo(own.say("bring_did", **_counts(brought, own), files=files))
    else:
        echo(own.say("bring_nothing_new"))
    _show_known(brought, own)
    if brought.foundings and seen.mapping.failed != "all":
        echo(own.say("bring_left_out"))


def _counts(brought: Brought, own: Voice) -> dict[str, str]:
    return {
        "foundings": own.say("foundings", n=len(brought.foundings)),
        "looks": own.say("looks", n=len(brought.checks)),
    }


def _ask_failed(own: Voice) -> str:
    """Ask once; blank where nobody can answer."""
    import sys

    from cohort.desk.bring.mapping import ASK_FAILED, FAILED

    if not sys.stdin.isatty():
        return ""
    answer = (
        str(typer.prompt(own.write(ASK_FAILED), default="", show_default=False)).strip().lower()
    )
    return answer if answer in FAILED else ""


def _show_look(seen: Look, own: Voice) -> None:
    from cohort.cli.say import table

    grid = seen.grid
    where = own.say("bring_tab", file=grid.file, tab=grid.tab) if grid.tab else grid.file
    echo(own.say("bring_rows", where=where, n=len(grid.rows)))
    unused = own.say("bring_unused")
    table(
        tuple(own.say(f"head_{name}") for name in ("heading", "taken", "why")),
        [(t.heading, t.field or unused, own.write(t.why)) for t in seen.taken],
        own=own,
    )
    echo(own.say("bring_mapping", file=str(seen.mapping_file)))
    echo(own.say("bring_original", file=str(seen.original), sum=seen.mapping.sha256))


def _show_trial(seen: Look, study: Path, own: Voice) -> None:
    from cohort.desk.bring.run import sheets_of, trial

    brought: Brought = trial(seen, sheets_of(study), study)
    findings_told(brought.findings, own.language)
    _show_rows(brought, own)
    echo(own.say("bring_would", **_counts(brought, own)))
    _show_known(brought, own)
    if brought.foundings and not seen.mapping.failed:
        echo(own.say("bring_open"))
    if any(finding.level == "error" for finding in brought.findings):
        raise typer.Exit(1)


def _show_known(brought: Brought, own: Voice) -> None:
    """What the study has already of a table that has grown, and what is new of it."""
    from cohort.cli.say import table

    if not brought.known:
        return
    names = {number: name for number, name, _ in brought.names}
    rows = []
    for number in brought.known:
        looks = [look for look in brought.checks if look["founding"] == number]
        if looks:
            rows.append((number, names[number], len(looks), _last_count(looks, own)))
    if rows:
        heads = ("there", "own", "new_looks", "last")
        table(tuple(own.say(f"head_{name}") for name in heads), rows, own=own)
    echo(own.say("bring_known", n=len(brought.known), already=brought.already))


def _last_count(looks: list[dict[str, str]], own: Voice) -> str:
    counts = [look for look in looks if look.get("queens_alive")]
    if not counts:
        return ""
    return own.say("bring_on", queens=counts[-1]["queens_alive"], day=counts[-1]["date"])


_SHOWN = 8  # foundings in the table of what was understood


def _show_rows(brought: Brought, own: Voice) -> None:
    """The first foundings as they would be written."""
    from cohort.cli.say import table

    names = {number: (name, row) for number, name, row in brought.names}
    rows = []
    for founding in brought.foundings[:_SHOWN]:
        number = founding["founding"]
        looks = [look for look in brought.checks if look["founding"] == number]
        kind = founding["genus"] or founding["kind"]
        rows.append(
            (
                number,
                names[number][0] or own.say("bring_row", row=str(names[number][1])),
                " ".join(part for part in (kind, founding["species"]) if part),
                founding["started"],
                founding["queens"],
                len(looks),
                _last_count(looks, own),
            )
        )
    if rows:
        heads = ("number", "own", "kind", "started", "queens", "looks", "last")
        table(tuple(own.say(f"head_{name}") for name in heads), rows, own=own)
        left = len(brought.foundings) - len(rows)
        if left:
            echo(own.say("more", more=left))


def _law(place: str, own: Voice | None = None) -> None:
    """The caution of a command: one line, law first."""
    from cohort.sheets.cautions import LINES, line_in

    echo(line_in(own, place) if own else LINES[place])
