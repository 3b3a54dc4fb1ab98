"""Commands for the club: the comparison and the page.

What comes in: words on the command line. What goes out: a folder of results, and what is said
meanwhile. Nothing is computed here.
"""

from __future__ import annotations

import datetime as dt
import json
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from cohort.base import background
from cohort.base.errors import Finding
from cohort.cli.asked import AsJson, print_json
from cohort.cli.progress import progress, told_of_first_run
from cohort.cli.say import say
from cohort.cli.stop import keeps, keeps_results

if TYPE_CHECKING:
    from cohort.base.making import Making
    from cohort.comparison import Comparison
    from cohort.figures.material import Material
    from cohort.results import Results
    from cohort.study import Study

PANEL = "For the club"

Studies = Annotated[
    list[Path],
    typer.Argument(
        help="Folder of the study; several are compared as one.",
        metavar="STUDY...",
        show_default=False,
    ),
]
Out = Annotated[
    Path, typer.Option("--out", help="Folder for the results.", metavar="DIR", show_default=False)
]
Without = Annotated[
    bool,
    typer.Option(
        "--without-faulty",
        help="Leave out foundings with an error, and list them with their errors.",
    ),
]
Seed = Annotated[
    int | None,
    typer.Option(
        "--seed",
        help="Seed of everything left to chance; the same seed gives the same numbers. "
        "Recorded with the results.",
        show_default=False,
    ),
]
Level = Annotated[
    float,
    typer.Option(
        "--level", min=0.5, max=0.99, help="How much a likely range holds: 0.9 is 90 of 100."
    ),
]
Quiet = Annotated[bool, typer.Option("--quiet", help="Say nothing while working.")]


def register(app: typer.Typer) -> None:
    """Add the commands of this group."""
    app.command(rich_help_panel=PANEL)(compare)
    app.command(rich_help_panel=PANEL)(newsletter)


def _read(
    studies: list[Path], without_faulty: bool, quiet: bool, *, as_json: bool = False
) -> Study:
    """The sheets of all studies as one, and what had to be settled between them, said."""
    from cohort.study import read_study
    from cohort.study.pool import pooled

    with progress(quiet) as tell:
        tell("Reading the sheets")
        whole = pooled([read_study(folder, without_faulty=without_faulty) for folder in studies])
    say(whole.notes, err=True)
    say([f"Not read: {line}" for line in whole.study.not_read], err=as_json)
    return whole.study


def _compared(
    study: Study, place: Path, seed: int | None, level: float, quiet: bool
) -> tuple[Comparison, background.Later[None]]:
    """Compare, and begin to write the numbers."""
    with progress(quiet) as tell:
        from cohort import results
        from cohort.comparison import SEED
        from cohort.comparison import compare as run

        told_of_first_run(tell)
        made = run(study, seed=SEED if seed is None else seed, level=level, say=tell)
        tell("Writing the numbers")
        return made, background.start(results.fill, place, made.results, made.draws, made.study)


def _end(results: Results) -> None:
    """Exit code 1, with the reasons, when the comparison has not settled."""
    if results.settled:
        return
    fitted = "ebfmi" in results.diagnosis
    rest = "Only what was counted is printed. Compare again when more has been looked at."
    if fitted:
        rest += " If this stays, show these lines to someone who knows statistics."
    reasons = [f"- {reason}" for reason in results.diagnosis["reasons"]]
    head = "The comparison has not settled:" if fitted else "There is nothing to compare yet:"
    say([head, *reasons, rest], err=True)
    raise typer.Exit(1)


def _say_verdicts(made: Comparison) -> None:
    """What may be said of the same queens, both ways; nothing where it has not settled."""
    if not made.results.settled:
        return
    from cohort.figures.material import Material
    from cohort.newsletter.speech import voice
    from cohort.newsletter.verdicts import lines

    told = lines(Material(made.results, made.history, made.study), voice("en"))
    head = "The same queens, together or each alone, for at least one colony:"
    say([head, *(f"- {line}" for line in told)])


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
            help="Also compare again under other assumptions; takes long, and if broken off the "
            "same command goes on from there.",
        ),
    ] = False,
    jobs: Annotated[
        int, typer.Option("--jobs", min=1, help="With --thorough: fits at a time.")
    ] = 1,
    scheduler: Annotated[
        str,
        typer.Option(
            "--scheduler",
            metavar="ADDRESS",
            show_default=False,
            help="With --thorough: Dask scheduler to send the further fits to (extra cluster).",
        ),
    ] = "",
    quiet: Quiet = False,
    as_json: AsJson = False,
) -> None:
    """Compare foundings by one queen with foundings by several: all numbers, no page."""
    keeps_results(out)
    background.made_ready("cohort.outcomes.prior_predictive", "nutpie")
    from cohort import results

    with results.made(out) as new:
        sheets = _read(study, without_faulty, quiet or as_json, as_json=as_json)
        made, written = _compared(sheets, new.place, seed, level, quiet or as_json)
        written.result()
        results.carry_over(out, new.place)
        mark = results.mark_of(new.place)
    if not as_json:
        draws = ", draws.nc" if made.draws is not None else ""
        _say_verdicts(made)
        say([f"Note: {note}" for note in made.results.diagnosis.get("notes", [])])
        say([f"Wrote {out}: comparisons.csv, curves.csv, foundings.csv{draws} and more."])
    if thorough and made.fit is not None:
        with_whom = {"jobs": jobs, "scheduler": scheduler}
        _look_again(made, out, mark, with_whom, quiet or as_json, as_json)
    elif made.fit is not None and not as_json:
        say(["Not done: comparing again under other assumptions (--thorough)."])
    if as_json:
        print_json(_plain(made.results, out))
    _end(made.results)


def _look_again(
    made: Comparison, out: Path, mark: str, with_whom: Any, quiet: bool, as_json: bool
) -> None:
    from cohort.comparison.thorough import thorough as look
    from cohort.comparison.thorough import write

    keeps(
        lambda: (
            f"The comparison lies in {out}; comparing it again was not finished. The same command "
            "goes on from there."
        )
    )
    with progress(quiet) as tell:
        told_of_first_run(tell)
        found = look(made, folder=out, mark=mark, say=tell, **with_whom)
        paths = write(found, out, mark=mark)
    say([f"Wrote {path}" for path in paths], err=as_json)


def _plain(results: Results, out: Path) -> dict[str, object]:
    """What a comparison found, as plain values; a blank or endless number is null."""
    verdicts = json.loads(results.verdicts.to_json(orient="records", force_ascii=False))
    found = results.diagnosis
    return {
        "folder": str(out),
        "settled": results.settled,
        "reasons": list(found.get("reasons", ())),
        "notes": list(found.get("notes", ())),
        "foundings": int(results.foundings["compared"].sum()),
        "queens_of_a_group": found.get("headline"),
        **{name: results.run[name] for name in ("title", "season", "horizon", "seed", "level")},
        "verdicts": verdicts,
    }


def newsletter(
    study: Studies,
    out: Out,
    without_faulty: Without = False,
    seed: Seed = None,
    level: Level = 0.9,
    language: Annotated[
        str,
        typer.Option("--language", help="Language of the page: en, de, es or fr.", metavar="CODE"),
    ] = "en",
    paper: Annotated[
        str, typer.Option("--paper", help="Paper of the PDF: a4 or letter.", metavar="NAME")
    ] = "a4",
    pages: Annotated[
        int, typer.Option("--pages", help="Pages of the PDF: 2, or up to 4.", metavar="N")
    ] = 2,
    keeper: Annotated[
        str,
        typer.Option(
            "--keeper",
            metavar="SIGN",
            show_default=False,
            help="Also this keeper's own page. If DIR holds the results of these very sheets, "
            "nothing is compared again and only this page is written.",
        ),
    ] = "",
    on: Annotated[
        str | None,
        typer.Option(
            "--on",
            metavar="DATE",
            show_default=False,
            help="Day (YYYY-MM-DD) for which a keeper's page says what is due; today if not given.",
        ),
    ] = None,
    quiet: Quiet = False,
) -> None:
    """Make the page for the club's newsletter, with all numbers behind it."""
    keeps_results(out)
    background.made_ready("cohort.outcomes.prior_predictive", "nutpie", "cohort.figures", "seaborn")
    from cohort.cli.asked import misuse
    from cohort.newsletter.catalogue import load
    from cohort.newsletter.print_pages import check

    with misuse("--language, --paper, --pages"):
        load(language)
        check(paper, pages)
    own = _keeper_asked(keeper, on, study) if keeper else None
    from cohort import results

    with results.made(out) as new:
        sheets = _read(study, without_faulty, quiet)
        found = _at_hand(sheets, out, seed, level) if own is not None else None
        if own is not None and found is not None:
            say([f"{out} holds the results of these sheets: nothing is compared again."])
            new.adds = True
            paths = [_keeper_page(own, _material(sheets, found), out, language, new.place)]
        else:
            made, written = _compared(sheets, new.place, seed, level, quiet)
            found = made.results
            how = _How(language, paper, pages, tuple(study))
            paths = _pages(made, written, new, how, own, quiet)
    _wrote([new.later(path) for path in paths], out)
    _end(found)


@dataclass(frozen=True)
class _How:
    """How the page is wanted, and where its photographs lie."""

    language: str
    paper: str
    pages: int
    folders: tuple[Path, ...]


def _pages(
    made: Comparison,
    written: background.Later[None],
    new: Making,
    how: _How,
    own: _Own | None,
    quiet: bool,
) -> list[Path]:
    """Set the page beside its numbers, and the keeper's own."""
    from cohort.figures.material import Material
    from cohort.newsletter import write_newsletter
    from cohort.results import carry_over

    material = Material(made.results, made.history, made.study)

    def carried() -> None:
        written.result()
        carry_over(new.folder, new.place)

    with progress(quiet) as tell:
        tell("Drawing the pictures and setting the page")
        paths = write_newsletter(
            material,
            new.place,
            language=how.language,
            folders=how.folders,
            paper=how.paper,
            pages=how.pages,
            written=background.when_asked(carried),
        )
        if own is not None:
            paths.append(_keeper_page(own, material, new.place, how.language, new.place))
    return paths


def _wrote(paths: list[Path], out: Path) -> None:
    say([f"Wrote {path}" for path in paths if path.parent == out])
    pictures = [path for path in paths if path.parent != out]
    if pictures:
        say([f"Wrote {len(pictures)} picture files into {out / 'figures'}"])


@dataclass(frozen=True)
class _Own:
    """A keeper whose own page is asked for: sign, day of what is due, findings of the audit."""

    keeper: str
    on: dt.date
    findings: tuple[Finding, ...]


def _keeper_asked(keeper: str, on: str | None, studies: list[Path]) -> _Own:
    """The keeper meant, before any long work; a keeper who is not there is misuse."""
    from cohort.audit import examine
    from cohort.cli.asked import day_of, misuse
    from cohort.newsletter.keeper import find, findings_of, known
    from cohort.sheets.folder import read_folder

    day = day_of(on, "--on")
    now = max(day, dt.date.today())
    examined = [examine(read_folder(folder), now) for folder in studies]
    with misuse("--keeper"):
        sign = find(keeper, known(examined))
    return _Own(sign, day, tuple(findings_of(sign, examined)))


def _at_hand(study: Study, out: Path, seed: int | None, level: float) -> Results | None:
    """Results in the folder, if they are of these very sheets, this program and what is asked."""
    from cohort.base.errors import StudyError
    from cohort.results import DamagedError, NotThereError, made_of, read, to_make

    try:
        found = read(out)
    except NotThereError:  # none there, or not whole: they are made
        return None
    except StudyError as fault:
        other = f"{out} was changed, or is of another version."
        what = fault.what if isinstance(fault, DamagedError) else other
        say([f"{what} All is made again."], err=True)
        return None
    there = made_of(found)
    return found if there == to_make(study, there.seed if seed is None else seed, level) else None


def _material(study: Study, results: Results) -> Material:
    from cohort.figures.material import Material
    from cohort.history.warmed import compared_history

    return Material(results, compared_history(study)[0], study)


def _keeper_page(own: _Own, material: Material, out: Path, language: str, place: Path) -> Path:
    from cohort.newsletter import write_keeper_page

    return write_keeper_page(
        material, out, own.keeper, own.findings, on=own.on, language=language, place=place
    )
