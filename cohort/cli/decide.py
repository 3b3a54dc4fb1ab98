"""Commands that look ahead: what is due, how to divide queens, how many foundings a question needs.

What comes in: words on the command line. What goes out: what the commands print, and the files
they are asked for. No statistics is written here.
"""

from __future__ import annotations

import datetime as dt
import json
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

if TYPE_CHECKING:
    from cohort.forecast import Due

KEEPERS = "For keepers"
BEFORE = "Before the season"

From = Annotated[
    Path | None,
    typer.Option(
        "--from",
        metavar="RESULTS",
        show_default=False,
        help="Folder of a comparison to stand on (this season's or last year's); what "
        "is published alone if not given.",
    ),
]
AsJson = Annotated[bool, typer.Option("--json", help="Print plain values for a program.")]


def register(app: typer.Typer) -> None:
    """Add the commands of this group."""
    app.command(rich_help_panel=KEEPERS)(due)
    app.command(rich_help_panel=BEFORE)(plan)
    app.command(rich_help_panel=BEFORE)(power)


@contextmanager
def _misuse(option: str) -> Iterator[None]:
    """A request that cannot be met is misuse (exit code 2), told by one plain message."""
    from cohort.errors import StudyError

    try:
        yield
    except StudyError as fault:
        raise typer.BadParameter(str(fault), param_hint=option) from fault


def _print_json(values: dict[str, Any]) -> None:
    typer.echo(json.dumps(values, indent=2, ensure_ascii=False))


def _say(lines: Iterable[str]) -> None:
    for line in lines:
        typer.echo(line)


def _day(text: str | None) -> dt.date:
    """Day given with --on, else today."""
    if text is None:
        return dt.date.today()
    try:
        return dt.date.fromisoformat(text)
    except ValueError:
        raise typer.BadParameter(
            f"'{text}' is not a date. Write it as YYYY-MM-DD.", param_hint="--on"
        ) from None


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
            help="Write looks and windows into a calendar file, by founding id only.",
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

    Windows and chances are updated by what was seen of each founding so far. No founding should
    be ended because of a forecast while the study runs.
    """
    from cohort.forecast import due as worked_out
    from cohort.forecast.words import as_json as plain
    from cohort.outcomes.basis import basis_of
    from cohort.study import read_study

    day = _day(on)
    table = read_study(study, without_faulty=without_faulty, today=max(day, dt.date.today()))
    basis = basis_of(results, draws=300)
    with _misuse("--on"):
        what = worked_out(table, day, basis)
    if keeper:
        what = _of_keeper(what, keeper)
    if calendar is not None:
        from cohort.forecast.calendar import calendar as book

        calendar.write_bytes(book(what))
    if as_json:
        _print_json(plain(what))
        return
    _show_due(what)
    if calendar is not None:
        typer.echo(f"Wrote {calendar}")


def _of_keeper(what: Due, keeper: str) -> Due:
    """What is due for one keeper."""
    from dataclasses import replace

    mine = what.looks[what.looks["keeper"].str.lower() == keeper.lower()]
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
    from cohort.cli.say import table
    from cohort.forecast import words
    from cohort.forecast.due import LEAVE_BE

    typer.echo(
        f"Due on {words.day_text(_stamp(what.on))} {what.on.year}: "
        f"{len(what.looks)} foundings open, {what.done} no longer looked at."
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
                "as likely as not",
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
                "like ones with workers by now",
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
                "lose a queen, 7 d",
                "14 d",
                "lose all, 7 d",
                "14 d",
            ),
            rows,
            title="\nGroups near or past their first workers, if left together "
            "(from the last count on)",
        )
    typer.echo("")
    typer.echo(LEAVE_BE)
    _say(what.says)


def _stamp(day: dt.date) -> Any:
    import pandas as pd

    return pd.Timestamp(day)


def plan(
    queens: Annotated[int, typer.Option("--queens", show_default=False, help="Queens to divide.")],
    genus: Annotated[
        str,
        typer.Option(
            "--genus",
            metavar="KIND",
            show_default=False,
            help="Genus or kind; new for one nobody has tried.",
        ),
    ],
    results: From = None,
    largest: Annotated[int, typer.Option("--largest", help="Most queens in one founding.")] = 4,
    day: Annotated[int, typer.Option("--day", help="Day on which colonies are counted.")] = 180,
    figure: Annotated[
        Path | None,
        typer.Option(
            "--figure",
            metavar="DIR",
            show_default=False,
            help="Draw the divisions into this folder.",
        ),
    ] = None,
    as_json: AsJson = False,
) -> None:
    """Compare every way to divide some queens into foundings.

    For each: the chance of at least one and of at least two colonies, colonies to expect, when
    first workers come, the chance that all queens are lost, and how much it would teach.
    Divisions marked * are beaten by no other in every respect.
    """
    from cohort.outcomes.basis import basis_of, kind_of
    from cohort.plan import plan as worked_out
    from cohort.plan import words
    from cohort.plan.plan import check

    with _misuse("--queens, --largest, --day"):
        check(queens, largest, day)
    basis = basis_of(results)
    with _misuse("--genus"):
        kind = kind_of(genus, basis)
    what = worked_out(queens, kind, basis, largest=largest, day=day)
    title = f"{what.queens} queens of {kind.name}, day {day}"
    paths: tuple[Path, ...] = ()
    if figure is not None:
        from cohort.figures.plan_picture import write_plan

        paths = write_plan(what.table, figure, title)
    if as_json:
        _print_json(words.as_json(what))
        return
    from cohort.cli.say import table
    from cohort.terms.genera import cautions

    table(words.HEADINGS, words.rows(what), title=title)
    hidden = len(what.table) - len(words.rows(what))
    if hidden:
        typer.echo(f"{hidden} more divisions; --json prints all.")
    typer.echo("")
    _say(words.sentences(what))
    _say(what.says)
    _say(cautions(kind.name))
    _say(f"Wrote {path}" for path in paths)


def _numbers(text: str, option: str) -> tuple[int, ...]:
    parts = [part.strip() for part in text.split(",") if part.strip()]
    if not parts or not all(part.isascii() and part.isdigit() and len(part) < 6 for part in parts):
        raise typer.BadParameter(
            f"'{text}': write whole numbers with commas, such as 24,48.", param_hint=option
        )
    return tuple(int(part) for part in parts)


def power(
    genera: Annotated[int, typer.Option("--genera", help="Genera in the study.")] = 4,
    foundings: Annotated[
        str,
        typer.Option(
            "--foundings", metavar="N,...", help="Foundings in all; several numbers give a curve."
        ),
    ] = "24,48",
    split: Annotated[
        str, typer.Option("--split", metavar="K,...", help="Queens per founding, each as often.")
    ] = "1,3",
    effect: Annotated[
        str,
        typer.Option(
            "--effect",
            metavar="NAME=VALUE,...",
            help="What is true: together=2 "
            "(queens in company die twice as often before workers), rivalry, "
            "takes-both, time, mated, deaths, frailty.",
        ),
    ] = "together=2",
    contrast: Annotated[
        str,
        typer.Option(
            "--contrast", help="Quantity whose difference is sought, as in comparisons.csv."
        ),
    ] = "same_queens_any",
    kind: Annotated[
        str, typer.Option("--kind", help="average (all kinds together) or new (one not tried).")
    ] = "average",
    day: Annotated[int, typer.Option("--day", help="Day to which foundings are followed.")] = 180,
    every: Annotated[int, typer.Option("--every", help="Days between looks.")] = 5,
    spread: Annotated[
        float, typer.Option("--spread", help="How much genera differ: 0 alike, 1 as the priors.")
    ] = 0.5,
    width: Annotated[
        float | None,
        typer.Option(
            "--width",
            show_default=False,
            help="Wished width of the likely range: tells the foundings it takes.",
        ),
    ] = None,
    seasons: Annotated[int, typer.Option("--seasons", help="Seasons to simulate for each.")] = 40,
    seed: Annotated[int, typer.Option("--seed", min=0, help="Seed of the first season.")] = 1,
    out: Annotated[
        Path | None,
        typer.Option(
            "--out",
            metavar="DIR",
            show_default=False,
            help="Folder for the seasons, to go on if broken off, and for "
            "the table and the figure.",
        ),
    ] = None,
    jobs: Annotated[int, typer.Option("--jobs", help="Seasons at a time.")] = 1,
    scheduler: Annotated[
        str,
        typer.Option(
            "--scheduler",
            metavar="ADDRESS",
            show_default=False,
            help="Dask scheduler to send the seasons to (extra cluster).",
        ),
    ] = "",
    as_json: AsJson = False,
) -> None:
    """Tell what a study could find out: seasons simulated from a known truth and compared again.

    For each number of foundings: how often the likely range of the contrast excludes no
    difference, and how wide it is. Beside it the textbook size, and what that leaves out.
    """
    import tempfile

    from cohort.cli.say import progress
    from cohort.power import Wish, words
    from cohort.power import power as worked_out
    from cohort.power.wish import check, read_effect

    sizes = _numbers(foundings, "--foundings")
    with _misuse("power"):
        wish = Wish(
            genera,
            _numbers(split, "--split"),
            read_effect(effect),
            contrast,
            kind,
            day,
            every,
            0.9,
            spread,
        )
        check(wish, sizes)
        words.check_rest(wish, seasons, width)
    with tempfile.TemporaryDirectory() as place, progress(as_json) as say:
        found = worked_out(
            wish,
            sizes,
            seasons,
            out or Path(place) / "seasons",
            width=width,
            seed=seed,
            jobs=jobs,
            scheduler=scheduler,
            say=say,
        )
    paths: tuple[Path, ...] = ()
    if out is not None:
        from cohort.figures.power_picture import write_power

        found.table.to_csv(out / "power.csv", index=False)
        paths = (out / "power.csv", *write_power(found.table, found.slope, found.level, out))
    if as_json:
        _print_json(words.as_json(found))
        return
    from cohort.cli.say import table

    table(words.HEADINGS, words.rows(found), title=words.title(found))
    typer.echo("")
    _say(words.sentences(found))
    _say(f"Wrote {path}" for path in paths)
