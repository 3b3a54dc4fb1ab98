"""Commands that make sheets and add to them: begin, bring, print; `log` has a file of its own.

What comes in: words on the command line. What goes out: files, and what was done in plain words.
No rule of the sheets is written here.
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from cohort.cli.say import echo, findings_told

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
    asked: dict[str, Any] = {"keeper": keeper, "tab": tab, "look_every": look_every}
    asked |= {"date_order": date_order, "under_dates": under_dates}
    seen = look(file, study, failed=failed, **asked)
    if not seen.mapping.failed:
        answer = _ask_failed()
        if answer:
            seen = look(file, study, failed=answer, **asked)
    _show_look(seen)
    _law("bring")
    if not write:
        _show_trial(seen, study)
        return
    logged, brought = write_all(seen, study, without_faulty=without_faulty)
    findings_told((*brought.findings, *logged.findings))
    told = f"{len(brought.foundings)} foundings and {len(brought.checks)} looks"
    files = ", ".join(path.name for path in logged.files)
    echo(f"Brought {told} into {files}." if files else "Nothing new: nothing was written.")
    _show_known(brought)
    if brought.foundings and seen.mapping.failed != "all":
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
    findings_told(brought.findings)
    _show_rows(brought)
    echo(
        f"{len(brought.foundings)} foundings and {len(brought.checks)} looks would be "
        "brought. Nothing was written to the sheets; add --write to do so."
    )
    _show_known(brought)
    if brought.foundings and not seen.mapping.failed:
        echo(
            "One question is open: are the ones that failed in this file too? Answer with --failed "
            "all, some or no."
        )
    if any(finding.level == "error" for finding in brought.findings):
        raise typer.Exit(1)


def _show_known(brought: Brought) -> None:
    """What the study has already of a table that has grown, and what is new of it."""
    from cohort.base.display import several
    from cohort.cli.say import table

    if not brought.known:
        return
    own = {number: name for number, name, _ in brought.names}
    rows = []
    for number in brought.known:
        looks = [look for look in brought.checks if look["founding"] == number]
        rows.append((number, own[number], len(looks), _last_count(looks)))
    new = [row for row in rows if row[2]]
    if new:
        table(("in the study already", "own name", "new looks", "queens last counted"), new)
    echo(
        f"In the study already: {several(len(brought.known), 'founding')} of the table, whose rows "
        f"stay as they are, and {brought.already} of their looks and events."
    )


def _last_count(looks: list[dict[str, str]]) -> str:
    counts = [look for look in looks if look.get("queens_alive")]
    return f"{counts[-1]['queens_alive']} on {counts[-1]['date']}" if counts else ""


_SHOWN = 8  # foundings in the table of what was understood


def _show_rows(brought: Brought) -> None:
    """The first foundings as they would be written."""
    from cohort.cli.say import table

    own = {number: (name, row) for number, name, row in brought.names}
    rows = []
    for founding in brought.foundings[:_SHOWN]:
        number = founding["founding"]
        looks = [look for look in brought.checks if look["founding"] == number]
        kind = founding["genus"] or founding["kind"]
        rows.append(
            (
                number,
                own[number][0] or f"row {own[number][1]}",
                " ".join(part for part in (kind, founding["species"]) if part),
                founding["started"],
                founding["queens"],
                len(looks),
                _last_count(looks),
            )
        )
    if rows:
        heads = ("number", "own name", "kind", "started", "queens", "looks", "queens last counted")
        table(heads, rows)
        left = len(brought.foundings) - len(rows)
        if left:
            echo(f"... and {left} more")


def _law(place: str) -> None:
    """The caution of a command: one line, law first."""
    from cohort.sheets.cautions import LINES

    echo(LINES[place])
