"""Commands for the club: the comparison and the page.

What comes in: words on the command line. What goes out: a folder of results, and what is said
meanwhile. Nothing is computed here.
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

if TYPE_CHECKING:
    from cohort.comparison import Comparison

PANEL = "For the club"

Studies = Annotated[
    list[Path],
    typer.Argument(
        help="Folder of the study; several are pooled.", metavar="STUDY...", show_default=False
    ),
]
Out = Annotated[
    Path, typer.Option("--out", help="Folder for the results.", metavar="DIR", show_default=False)
]
Without = Annotated[
    bool,
    typer.Option(
        "--without-faulty", help="Leave out foundings with an error, and list them with it."
    ),
]
Seed = Annotated[
    int | None,
    typer.Option(
        "--seed", help="Seed of all draws; recorded with the results.", show_default=False
    ),
]
Level = Annotated[
    float,
    typer.Option("--level", min=0.5, max=0.99, help="Mass of the likely range."),
]
Quiet = Annotated[bool, typer.Option("--quiet", help="Say nothing while working.")]


def register(app: typer.Typer) -> None:
    """Add the commands of this group."""
    app.command(rich_help_panel=PANEL)(compare)
    app.command(rich_help_panel=PANEL)(newsletter)


def _compared(
    studies: list[Path],
    out: Path,
    without_faulty: bool,
    seed: int | None,
    level: float,
    quiet: bool,
) -> Comparison:
    """Read, compare and write the numbers."""
    from cohort.cli.say import progress
    from cohort.pool import pooled
    from cohort.results import check_folder
    from cohort.study import read_study

    check_folder(out)
    with progress(quiet) as say:
        say("Reading the sheets")
        from cohort.pool import pooled

        whole = pooled([read_study(folder, without_faulty=without_faulty) for folder in studies])
        for note in whole.notes:
            typer.echo(note, err=True)
        study = whole.study
        from cohort.comparison import SEED
        from cohort.comparison import compare as run

        made = run(study, seed=SEED if seed is None else seed, level=level, say=say)
        say("Writing the numbers")
        made.write(out)
    return made


def _end(made: Comparison) -> None:
    """Exit code 1, with the reasons, when the comparison has not settled."""
    if made.results.settled:
        return
    typer.echo("The comparison has not settled:", err=True)
    for reason in made.results.diagnosis["reasons"]:
        typer.echo(f"- {reason}", err=True)
    raise typer.Exit(1)


def compare(
    study: Studies,
    out: Out,
    without_faulty: Without = False,
    seed: Seed = None,
    level: Level = 0.9,
    thorough: Annotated[
        bool,
        typer.Option(
            "--thorough",
            help="Also refit: variants of the model, priors, bounds and exclusions; takes long.",
        ),
    ] = False,
    quiet: Quiet = False,
) -> None:
    """Compare single with multi-queen foundings: tables, curves and draws, no page."""
    made = _compared(study, out, without_faulty, seed, level, quiet)
    typer.echo(f"Wrote {out}: comparisons.csv, curves.csv, foundings.csv, draws.nc and more.")
    for note in made.results.diagnosis.get("notes", []):
        typer.echo(f"Note: {note}")
    if thorough and made.fit is not None:
        from cohort.cli.say import progress
        from cohort.thorough import thorough as look
        from cohort.thorough import write

        with progress(quiet) as say:
            for path in write(look(made, say=say), out):
                typer.echo(f"Wrote {path}")
    elif made.fit is not None:
        typer.echo("Left out: refits under variants, other priors and bounds (--thorough).")
    _end(made)


def newsletter(
    study: Studies,
    out: Out,
    without_faulty: Without = False,
    seed: Seed = None,
    level: Level = 0.9,
    language: Annotated[
        str, typer.Option("--language", help="Language of the page: en or de.", metavar="CODE")
    ] = "en",
    paper: Annotated[
        str, typer.Option("--paper", help="Paper of the PDF: a4 or letter.", metavar="NAME")
    ] = "a4",
    pages: Annotated[
        int, typer.Option("--pages", help="Pages of the PDF: 2, or up to 4.", metavar="N")
    ] = 2,
    quiet: Quiet = False,
) -> None:
    """Make the page for the club's newsletter, with all numbers behind it."""
    from cohort.cli.asked import misuse
    from cohort.cli.say import progress
    from cohort.newsletter.catalogue import load
    from cohort.newsletter.print_pages import check

    with misuse("--language, --paper, --pages"):
        load(language)
        check(paper, pages)
    made = _compared(study, out, without_faulty, seed, level, quiet)
    from cohort.figures.material import Material
    from cohort.newsletter import write_newsletter

    with progress(quiet) as say:
        say("Drawing the figures and setting the page")
        paths = write_newsletter(
            Material(made.results, made.history, made.study),
            out,
            language=language,
            folders=study,
            paper=paper,
            pages=pages,
        )
    pictures = [path for path in paths if path.parent != out]
    for path in paths:
        if path.parent == out:
            typer.echo(f"Wrote {path}")
    typer.echo(f"Wrote {len(pictures)} picture files into {out / 'figures'}")
    _end(made)
