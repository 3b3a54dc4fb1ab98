"""Commands for the time before the season.

What comes in: words on the command line. What goes out: what the commands print, and lists and
rows when asked. No statistics is written here.
"""

from __future__ import annotations

import secrets
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from cohort.base.display import tied
from cohort.cli.say import echo

if TYPE_CHECKING:
    from collections.abc import Sequence

    from cohort.desk.allot import Ask, Lot
    from cohort.desk.allot_study import SetAside

PANEL = "Before the season"


def register(app: typer.Typer) -> None:
    """Add the commands of this group."""
    app.command(rich_help_panel=PANEL)(allot)


def ask_of(sizes: str, shares: str, block: int) -> Ask:
    """Sizes, shares and block from the command line; shares are equal when blank."""
    from cohort.desk.allot import Ask

    many = _whole(sizes, "--sizes")
    return Ask(many, _whole(shares, "--shares") if shares else (1,) * len(many), block)


def _whole(text: str, option: str) -> tuple[int, ...]:
    parts = [part.strip() for part in text.split(",")]
    if not all(part.isascii() and part.isdigit() and len(part) < 7 for part in parts):
        raise typer.BadParameter(
            f"'{text}': write whole numbers with commas, such as 1,3.", param_hint=option
        )
    return tuple(int(part) for part in parts)


def allot(
    study: Annotated[
        Path, typer.Argument(help="Folder of the study.", metavar="STUDY", show_default=False)
    ],
    queens: Annotated[
        str,
        typer.Option(
            "--queens",
            metavar="KIND=N,...",
            show_default=False,
            help="Queens to draw for, such as Lasius=9,Messor=6; those of the sheet "
            "catches that are in no founding yet if not given.",
        ),
    ] = "",
    keeper: Annotated[
        str,
        typer.Option(
            "--keeper", metavar="SIGN", show_default=False, help="Whose they are (with --queens)."
        ),
    ] = "",
    catch: Annotated[
        str,
        typer.Option(
            "--catch",
            metavar="CATCH",
            show_default=False,
            help="Which catch or flight (with --queens).",
        ),
    ] = "",
    sizes: Annotated[str, typer.Option("--sizes", help="Queens per founding.")] = "1,3",
    shares: Annotated[
        str,
        typer.Option(
            "--shares",
            show_default=False,
            help="Foundings of each size in proportion; equal if not given.",
        ),
    ] = "",
    block: Annotated[int, typer.Option("--block", help="Foundings per block.")] = 4,
    aside: Annotated[
        list[str] | None,
        typer.Option(
            "--set-aside",
            metavar="KIND=N:REASON",
            show_default=False,
            help="Queens that are not drawn for, under a reason agreed in leave_out, such as "
            "Lasius=1:mites. May be repeated.",
        ),
    ] = None,
    seed: Annotated[
        int | None,
        typer.Option(
            "--seed",
            show_default=False,
            help="Seed of the draw: the same seed draws the same list; drawn if not given.",
        ),
    ] = None,
    started: Annotated[
        str,
        typer.Option(
            "--started",
            metavar="DATE",
            show_default=False,
            help="Day 0 in the sheet; today if not given.",
        ),
    ] = "",
    write: Annotated[
        bool, typer.Option("--write", help="Keep the list and add the foundings to the sheets.")
    ] = False,
    anyway: Annotated[
        bool,
        typer.Option(
            "--anyway", help="Draw for refused kinds too; the reasons against it come first."
        ),
    ] = False,
) -> None:
    """Draw which queens found together and which alone.

    Blocks are made by kind, catch and keeper: at the end of each block every size has come up as
    its share says. Two kinds never share a container. Refused are kinds on a list of invasive
    species, social parasites, and kinds that found by splitting or have no queens. Without --write
    nothing is kept. Draw once and keep to it.
    """
    from cohort.audit.settings import read_settings
    from cohort.desk import allot_study as of_study
    from cohort.desk.allot import draw, unfit
    from cohort.desk.print.signs import signs
    from cohort.sheets.folder import read_folder
    from cohort.sheets.lists import next_name
    from cohort.sheets.numbers import as_known

    ask = ask_of(sizes, shares, block)
    sheets = read_folder(study)
    settings = read_settings(sheets.of("study"))[0]
    day = of_study.day_zero(started, settings.date_order)
    kinds = of_study.kinds_of(sheets)
    keeper = as_known(keeper, signs(study, sheets)) if keeper else ""
    pools = (
        of_study.pools_named(queens, keeper, catch, kinds)
        if queens
        else of_study.pools_from_catches(sheets)
    )
    pools, put_aside = of_study.set_aside(pools, aside or [], settings.leave_out)
    name = next_name(study)
    drawn = seed if seed is not None else secrets.randbelow(2**31)
    without_numbers = draw(pools, ask, drawn, list_name=name, anyway=anyway)
    lots = of_study.numbered(sheets, study, without_numbers)
    for pool, why in unfit(pools):
        echo(f"{pool.words}: {why} Drawn for all the same, as asked.")
    for line in of_study.doubts(pools):
        echo(line)
    for line in _cautions([(pool.genus, pool.species) for pool in pools]):
        echo(line)
    _show(lots, put_aside, pools)
    echo(f"List {name}, seed {drawn}.")
    if not write:
        echo(
            "Nothing was written. To keep the list and add the foundings, use the same --seed with "
            "--write."
        )
        return
    kinds = of_study.kinds_of(sheets)
    done = of_study.keep(study, lots, name=name, seed=drawn, ask=ask, started=day)
    echo(
        f"Kept lists/{name}.csv; wrote {done.rows} foundings to "
        f"{', '.join(path.name for path in done.files)}."
    )
    for sign in sorted({lot.pool.keeper for lot in lots}):
        if (study / f"{sign}.xlsx").exists():
            numbers = [lot.founding for lot in lots if lot.pool.keeper == sign]
            echo(
                f"You need not type {numbers[0]} to {numbers[-1]} into {sign}.xlsx. If you do, "
                "each is read as one founding: what you type counts, and what you leave blank is "
                "taken from the list."
            )
    echo(f"Labels: cohort print labels {study} --all")
    own = sorted({lot.pool.kind for lot in lots if of_study.is_own_word(lot.pool.kind, kinds)})
    if own:
        echo(
            f"{', '.join(own)}: no genus of the list, so it was written down as a kind of your own "
            "(sheet kinds). Write its genus there when you know it."
        )


def _cautions(pairs: Sequence[tuple[str, str]]) -> tuple[str, ...]:
    """Law first, then what belongs to the kinds: how they found, where that differs; cautions."""
    from cohort.sheets.cautions import LINES
    from cohort.terms.genera import cautions_of, founding_doubt

    doubts = dict.fromkeys(founding_doubt(*pair) for pair in sorted(set(pairs)))
    return (LINES["allot"], *filter(None, doubts), *cautions_of(pairs))


def _show(lots: Sequence[Lot], aside: Sequence[SetAside], pools: Sequence[object]) -> None:
    from cohort.cli.say import table
    from cohort.desk.allot import Pool, left_over

    table(
        ("founding", "kind", "catch", "way", "queens of the row", "block", "assigned"),
        [
            (
                lot.founding,
                lot.pool.kind,
                lot.pool.flight or "-",
                tied("one alone" if lot.queens == 1 else f"{lot.queens} together"),
                ", ".join(map(str, lot.which)),
                lot.block or "-",
                lot.assigned,
            )
            for lot in lots
        ],
    )
    echo(
        "Queens are counted along the row in which they lie. Put them in a row before you read "
        "the list."
    )
    for put in aside:
        echo(
            f"Set aside: {put.queens} of {put.pool.words} ({put.reason}, as agreed). If you keep "
            f"one, give her a founding of her own with left_out = {put.reason}."
        )
    for pool in pools:
        if isinstance(pool, Pool) and (over := left_over(pool, lots)):
            echo(
                f"Left over: queens {', '.join(map(str, over))} of {pool.words}. No lot took them."
            )
