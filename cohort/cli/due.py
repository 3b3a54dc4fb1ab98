"""The command that tells what is due.

What comes in: words on the command line. What goes out: what is printed, and a calendar file when
asked. No statistics is written here.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from cohort.cli.asked import AsJson, From, Language, day_of, misuse, print_json
from cohort.cli.progress import progress, told_of_first_run
from cohort.cli.say import say, table

if TYPE_CHECKING:
    from cohort.forecast import Due
    from cohort.study import Study
    from cohort.terms.voice import Voice

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
    language: Language = "en",
    as_json: AsJson = False,
) -> None:
    """Tell what is due: looks, first workers to expect, overdue foundings, groups at risk.

    Days and chances go by what was seen of each founding so far. While the study runs, do not end
    a founding because of a forecast.
    """
    from cohort.forecast import due as worked_out
    from cohort.forecast import words
    from cohort.outcomes.basis import basis_of
    from cohort.study import read_study

    with misuse("--language"):
        own = words.speaks(language)
    day = day_of(on, "--on")
    sheets = read_study(study, without_faulty=without_faulty, today=max(day, dt.date.today()))
    with progress(as_json, short=True) as tell:
        told_of_first_run(tell)
        tell("Working out what is due")
        basis = basis_of(results, draws=300)
        with misuse("--on"):
            what = worked_out(sheets, day, basis)
    if keeper:
        what = _of_keeper(what, keeper)
    if calendar is not None:
        from cohort.forecast.calendar import calendar as book

        calendar.write_bytes(book(what, own))
    if as_json:
        print_json(words.as_json(what, own))
        return
    past = _past_horizon(sheets, day, keeper)
    _show_due(what, own, [own.say("past_horizon", n=past)] if past else [])
    _show_cautions(sheets, what, own)
    if calendar is not None:
        say([own.say("wrote", path=str(calendar))])


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


def _past_horizon(study: Study, day: dt.date, keeper: str) -> int:
    """How many foundings have living queens, and the last day that is compared behind them."""
    import pandas as pd

    from cohort.desk.print.open import still_open

    age = (pd.Timestamp(day) - still_open(study, keeper)["started"]).dt.days
    return int((age > study.settings.horizon_days).sum())


def _show_due(what: Due, own: Voice, more: Sequence[str] = ()) -> None:
    from cohort.forecast import words

    say([words.head(what, own), *more])
    for when, title in words.SHOWN.items():
        rows = words.look_rows(what, when, own)
        say([""])
        if rows:
            _table(words.LOOKS, rows, title, own)
        else:
            say([own.say("none", title=own.say(title))])
    chances = (
        (words.OVERDUE, words.overdue_rows(what, own), "overdue"),
        (words.WINDOWS, words.window_rows(what, own), "windows"),
        (words.GROUPS, words.group_rows(what, own), "groups"),
    )
    for keys, rows, title in chances:
        if rows:
            say([""])
            _table(keys, rows, title, own)
    say([""])
    if any(rows for _, rows, _ in chances):
        say([own.say("of_100")])
    say([own.say("leave_be"), *own.tell(what.told)])


def _table(keys: Sequence[str], rows: Sequence[Sequence[str]], title: str, own: Voice) -> None:
    from cohort.forecast import words

    table(words.headings(keys, own), rows, title=own.say(title), own=own)


def _show_cautions(study: Study, what: Due, own: Voice) -> None:
    """Law first, then the cautions of the kinds that are open."""
    from cohort.sheets.cautions import line_in
    from cohort.terms.genera import cautions_of

    rows = study.foundings[study.foundings["founding"].isin(what.looks["founding"])]
    say([line_in(own, "due"), *cautions_of(zip(rows["genus"], rows["species"], strict=True), own)])
