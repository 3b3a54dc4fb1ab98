"""The command that tells what is due.

What comes in: words on the command line. What goes out: what is printed, and a calendar file when
asked. No statistics is written here.
"""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from cohort.cli.asked import AsJson, From, day_of, misuse, print_json, say

if TYPE_CHECKING:
    from cohort.forecast import Due
    from cohort.study import Study

PANEL = "For keepers"


def register(app: typer.Typer) -> None:
    """Add the commands of this group."""
    app.command(rich_help_panel=PANEL)(due)


def due(
    study: Annotated[
        Path, typer.Argument(help="Folder of the study.", metavar="STUDY", show_default=False)
    ],
    on: Annotated[
        str | None,
        typer.Option(
            "--on",
            metavar="DATE",
            show_default=False,
            help="Day asked about (YYYY-MM-DD); today if not given.",
        ),
    ] = None,
    results: From = None,
    calendar: Annotated[
        Path | None,
        typer.Option(
            "--calendar",
            metavar="FILE.ics",
            show_default=False,
            help="Write looks and first workers to expect into a calendar file; it names "
            "foundings by their number only.",
        ),
    ] = None,
    keeper: Annotated[
        str,
        typer.Option(
            "--keeper", metavar="SIGN", show_default=False, help="Only this keeper's foundings."
        ),
    ] = "",
    without_faulty: Annotated[
        bool, typer.Option("--without-faulty", help="Leave out foundings with an error.")
    ] = False,
    as_json: AsJson = False,
) -> None:
    """Tell what is due: looks, first workers to expect, overdue foundings, groups at risk.

    Days and chances go by what was seen of each founding so far. No founding should be ended
    because of a forecast while the study runs.
    """
    from cohort.forecast import due as worked_out
    from cohort.forecast.words import as_json as plain
    from cohort.outcomes.basis import basis_of
    from cohort.study import read_study

    day = day_of(on, "--on")
    table = read_study(study, without_faulty=without_faulty, today=max(day, dt.date.today()))
    basis = basis_of(results, draws=300)
    with misuse("--on"):
        what = worked_out(table, day, basis)
    if keeper:
        what = _of_keeper(what, keeper)
    if calendar is not None:
        from cohort.forecast.calendar import calendar as book

        calendar.write_bytes(book(what))
    if as_json:
        print_json(plain(what))
        return
    _show_due(what)
    _show_cautions(table, what)
    if calendar is not None:
        typer.echo(f"Wrote {calendar}")


def _of_keeper(what: Due, keeper: str) -> Due:
    """What is due for one keeper."""
    from dataclasses import replace

    from cohort.sheets.numbers import is_of

    looks = zip(what.looks["keeper"], what.looks["founding"], strict=True)
    mine = what.looks[[is_of(keeper, sign, number) for sign, number in looks]]
    if mine.empty:
        raise typer.BadParameter(
            f"no open founding of keeper '{keeper}' on this day.", param_hint="--keeper"
        )
    own = set(mine["founding"])
    return replace(
        what,
        looks=mine,
        windows=what.windows[what.windows["founding"].isin(own)],
        groups=what.groups[what.groups["founding"].isin(own)],
    )


def _show_due(what: Due) -> None:
    from cohort.base.display import several
    from cohort.cli.say import table
    from cohort.forecast import words
    from cohort.forecast.due import LEAVE_BE

    typer.echo(
        f"Due on {words.day_text(_stamp(what.on))} {what.on.year}: "
        f"{several(len(what.looks), 'founding')} open, {what.done} no longer looked at."
    )
    looks = ("founding", "keeper", "kind", "queens", "last look", "due")
    for when, title in words.SHOWN.items():
        rows = words.look_rows(what, when)
        if rows:
            table(looks, rows, title=f"\n{title}")
        else:
            typer.echo(f"\n{title}: none.")
    rows = words.window_rows(what)
    if rows:
        table(
            (
                "founding",
                "kind",
                "queens",
                "in 50 of 100 cases",
                "likely range",
                "no workers this season",
            ),
            rows,
            title="\nFirst workers, if they come this season",
        )
    rows = words.overdue_rows(what)
    if rows:
        table(
            (
                "founding",
                "kind",
                "queens",
                "foundings like it with workers by now",
                "no workers this season",
                "no queen mated",
                "likely range if they come",
            ),
            rows,
            title="\nOverdue",
        )
    rows = words.group_rows(what)
    if rows:
        table(
            (
                "founding",
                "kind",
                "queens",
                "workers",
                "lose a queen within 7 days",
                "within 14 days",
                "lose all within 7 days",
                "all within 14 days",
            ),
            rows,
            title="\nGroups near or past their first workers, if left together "
            "(from the last count on)",
        )
    typer.echo("")
    typer.echo(LEAVE_BE)
    say(what.says)


def _show_cautions(study: Study, what: Due) -> None:
    """Law first, then the cautions of the kinds that are open."""
    from cohort.sheets.cautions import LINES
    from cohort.terms.genera import cautions_of

    rows = study.foundings[study.foundings["founding"].isin(what.looks["founding"])]
    typer.echo(LINES["due"])
    say(cautions_of(zip(rows["genus"], rows["species"], strict=True)))


def _stamp(day: dt.date) -> Any:
    import pandas as pd

    return pd.Timestamp(day)
