"""Commands that decide: how to divide queens, how many foundings a question needs.

What comes in: words on the command line. What goes out: what the commands print, and the files
they are asked for. No statistics is written here.
"""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from cohort.cli.asked import AsJson, From, Language, misuse, print_json
from cohort.cli.progress import progress, told_of_first_run
from cohort.cli.say import say, table
from cohort.terms.questions import AVERAGE

PANEL = "Before the season"


def register(app: typer.Typer) -> None:
    """Add the commands of this group."""
    app.command(rich_help_panel=PANEL)(plan)
    app.command(rich_help_panel=PANEL)(power)


def plan(
    queens: Annotated[int, typer.Option("--queens", show_default=False, help="Queens to divide.")],
    genus: Annotated[
        str,
        typer.Option(
            "--genus",
            metavar="KIND",
            show_default=False,
            help="Genus or kind; new for a genus new to the club.",
        ),
    ],
    results: From = None,
    largest: Annotated[int, typer.Option("--largest", help="Most queens in one founding.")] = 4,
    day: Annotated[
        int | None,
        typer.Option(
            "--day",
            show_default=False,
            help="Day on which colonies are counted: 180, or with --from the last day to which "
            "enough foundings were followed if that is earlier.",
        ),
    ] = None,
    want: Annotated[
        str,
        typer.Option(
            "--want",
            metavar="AIM",
            help="What you want: one (at least one colony), many (as many colonies as possible) "
            "or workers (a strong colony soon).",
        ),
    ] = "one",
    figure: Annotated[
        Path | None,
        typer.Option(
            "--figure",
            metavar="DIR",
            show_default=False,
            help="Draw the divisions into this folder.",
        ),
    ] = None,
    language: Language = "en",
    as_json: AsJson = False,
) -> None:
    """Tell how to divide some queens: alone, together, or some of each.

    First what we would do, and how sure we are. Then a table of the divisions: the chance of at
    least one and of at least two colonies, colonies on average, when first workers come, the
    chance that all queens are lost, and how much each would teach. With --want workers it counts
    the workers about 30 days after the first.
    """
    from cohort.outcomes.basis import basis_of
    from cohort.plan import plan as worked_out
    from cohort.plan import words
    from cohort.plan.advice import wanted
    from cohort.plan.asked import asked
    from cohort.plan.phrases import speaks
    from cohort.plan.plan import DAY, check

    with misuse("--language"):
        own = speaks(language)
    with misuse("--want"):
        want = wanted(want)
    with misuse("--queens, --largest, --day"):
        check(queens, largest, DAY if day is None else day)
    with progress(as_json, short=True) as tell:
        told_of_first_run(tell)
        tell("Comparing the ways to divide them")
        basis = basis_of(results, draws=1000)
        with misuse("--genus"):
            whom = asked(genus, basis, own)
        told_day = ""
        if day is None:
            day = min(DAY, basis.last_day(whom.kind.index)) if basis.settled else DAY
            if day < DAY:
                key = "last_day_of" if basis.last.get(whom.kind.name) else "last_day"
                told_day = own.say(key, day=day, kind=whom.kind.name)
        before = basis_of(None, draws=1000) if basis.settled else None
        what = worked_out(
            queens, whom.kind, basis, largest=largest, day=day, want=want, before=before
        )
    paths: tuple[Path, ...] = ()
    if figure is not None:
        from cohort.figures.labels import read_labels
        from cohort.figures.plan_picture import write_plan

        paths = write_plan(what.table, figure, what.titled(own), want, read_labels(language))
    if as_json:
        print_json({"cautions": list(whom.first), **words.as_json(what, own)})
        return
    from cohort.sheets.cautions import line_in

    say((*whom.first, line_in(own, "plan"), "", *words.first_words(what, own), ""))
    rows = words.rows(what, own)
    table(words.headings(want, own), rows, title=what.titled(own), own=own)
    hidden = len(what.table) - len(rows)
    say([own.say("star"), *([own.say("hidden", n=hidden)] if hidden else [])])
    say(("", *words.sentences(what, own), *own.tell(what.told)))
    say(text for text in (told_day, whom.doubt) if text)
    say(own.say("wrote", path=str(path)) for path in paths)


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
            "--foundings",
            metavar="N,...",
            help="Foundings in all; several numbers are set side by side.",
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
            help="What is to be true in the simulated seasons: together=2 "
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
        str,
        typer.Option(
            "--kind", help="average (all kinds together) or new (a genus new to the club)."
        ),
    ] = AVERAGE,
    day: Annotated[int, typer.Option("--day", help="Day to which foundings are followed.")] = 180,
    every: Annotated[int, typer.Option("--every", help="Days between looks.")] = 5,
    spread: Annotated[
        float,
        typer.Option("--spread", help="How much genera differ: 0 alike, 1 as assumed beforehand."),
    ] = 0.5,
    width: Annotated[
        float | None,
        typer.Option(
            "--width",
            show_default=False,
            help="Wished width of the likely range: tells how many foundings that takes.",
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
            help="Folder for the table, the picture and the seasons; if broken off, "
            "it goes on from there.",
        ),
    ] = None,
    jobs: Annotated[int, typer.Option("--jobs", help="Seasons worked on at a time.")] = 1,
    language: Language = "en",
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
    """Tell what a study could find out, by seasons simulated from a known truth.

    For each number of foundings: how often the likely range of the difference lies wholly on one
    side of zero, and how wide it is. Beside it the textbook size, and what that leaves out.
    """
    import tempfile

    from cohort.cli.stop import keeps
    from cohort.power import Wish, words
    from cohort.power import power as worked_out
    from cohort.power.wish import check, read_effect

    with misuse("--language"):
        own = words.speaks(language)
    sizes = _numbers(foundings, "--foundings")
    with misuse("power"):
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
    keeps(
        lambda: (
            "Nothing was written; with --out the seasons done so far would be kept."
            if out is None
            else f"The seasons done so far lie in {out}; the same command goes on from there."
        )
    )
    with tempfile.TemporaryDirectory() as place, progress(as_json) as tell:
        told_of_first_run(tell)
        found = worked_out(
            wish,
            sizes,
            seasons,
            out or Path(place) / "seasons",
            width=width,
            seed=seed,
            jobs=jobs,
            scheduler=scheduler,
            say=tell,
        )
    paths: tuple[Path, ...] = ()
    if out is not None:
        from cohort.base import making
        from cohort.figures.labels import read_labels
        from cohort.figures.power_picture import save_power
        from cohort.sheets import written

        with making.added(out) as new:
            table_at = written.write(found.table, "power", new.place / "power.csv")
            drawn = save_power(
                found.table, found.slope, found.level, new.place, read_labels(language)
            )
        paths = tuple(new.later(path) for path in (table_at, *drawn))
    if as_json:
        print_json(words.as_json(found, own))
        return
    table(words.headings(own), words.rows(found, own), title=words.title(found, own), own=own)
    say(("", *words.sentences(found, own)))
    say(own.say("wrote", path=str(path)) for path in paths)
