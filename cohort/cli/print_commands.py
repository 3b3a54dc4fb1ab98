"""Commands below ``cohort print``: night, checks, labels.

What comes in: words on the command line. What goes out: PDF files; for a night sheet also the
list of its lots, kept with the study.
"""

from __future__ import annotations

import datetime as dt
import os
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, NamedTuple

import typer

from cohort.base.errors import StudyError
from cohort.cli.asked import Language, misuse
from cohort.cli.say import ByUse, say

if TYPE_CHECKING:
    from cohort.desk.print.pages import Label
    from cohort.terms.voice import Voice

Study = Annotated[
    Path | None,
    typer.Argument(
        help="Folder of the study; without one the sheet is blank.",
        metavar="[STUDY]",
        show_default=False,
    ),
]
Keeper = Annotated[
    str,
    typer.Option("--keeper", metavar="SIGN", help="Keeper's sign, such as K2.", show_default=False),
]
Out = Annotated[
    Path | None,
    typer.Option(
        "--out",
        metavar="FILE.pdf",
        show_default=False,
        help="Where the PDF goes; a name in this folder if not given.",
    ),
]
Paper = Annotated[str, typer.Option("--paper", help="Paper: a4 or letter.")]
Numbers = Annotated[int, typer.Option("--numbers", min=1, max=500, help="How many numbers.")]


def build() -> typer.Typer:
    """Command ``print`` with its three sheets."""
    app = typer.Typer(
        name="print",
        cls=ByUse,
        no_args_is_help=True,
        help="Paper to write on: night sheet with lots, check sheet, labels (PDF).",
    )
    app.command()(night)
    app.command()(checks)
    app.command()(labels)
    return app


def night(
    study: Study = None,
    keeper: Keeper = "",
    numbers: Numbers = 16,
    sizes: Annotated[str, typer.Option("--sizes", help="Queens per container.")] = "1,3",
    shares: Annotated[
        str,
        typer.Option(
            "--shares",
            show_default=False,
            help="Containers of each size in proportion; equal if not given.",
        ),
    ] = "",
    block: Annotated[int, typer.Option("--block", help="Containers per block.")] = 4,
    seed: Annotated[
        int | None,
        typer.Option(
            "--seed",
            show_default=False,
            help="Seed of the lots: the same seed draws the same lots; drawn if not given.",
        ),
    ] = None,
    paper: Paper = "a4",
    language: Language = "en",
    out: Out = None,
) -> None:
    """Night sheet, made before the season: numbers, labels, lots to uncover one by one.

    Without --keeper each keeper of the study gets a sheet with lots of their own. With a study the
    lots are kept in its folder lists, so that the audit can compare the sheets with them.
    """
    import secrets

    from cohort.cli.season import ask_of
    from cohort.desk.print import blocks_for, night_list, night_sheet
    from cohort.sheets.lists import next_name, write_list

    own = _voice(language)
    known = _known(study)
    ask = ask_of(sizes, shares, block)
    drawn = seed if seed is not None else secrets.randbelow(2**31)
    todo = _for_each(keeper, known, out)
    today = dt.date.today().isoformat()
    first = int(next_name(study)[1:]) if study else 1
    paths = [
        out or Path(f"night-{_safe(sign)}L{first + place}.pdf") for place, sign in enumerate(todo)
    ]
    for path in paths:
        _not_there(path)
    for place, (sign, path) in enumerate(zip(todo, paths, strict=True)):
        lots = night_list(
            ask, drawn + place, name=f"L{first + place}", blocks=blocks_for(numbers, ask)
        )
        pdf = night_sheet(
            lots,
            _numbers(sign, known.used, numbers),
            keeper=sign,
            leave_out=known.leave_out,
            line=known.season,
            paper=paper,
            language=language,
        )
        path.parent.mkdir(parents=True, exist_ok=True)
        if study:
            kept = write_list(study, lots.name, lots.rows(sign, today))
            say([own.say("wrote", path=str(kept))])
        _write(path, pdf, own)
        say([own.say("seed", seed=str(drawn + place))])
    say([*([] if study else [own.say("kept_nowhere")]), own.say("law_of_sheet")])


def _voice(language: str) -> Voice:
    from cohort.desk.print.pages import speaks

    with misuse("--language"):
        return speaks(language)


def _not_there(path: Path) -> None:
    if os.path.lexists(path):
        raise StudyError(
            f"{path} is there already; a drawn sheet is not written over. Give another name with "
            "--out."
        )


def checks(
    study: Study = None,
    keeper: Keeper = "",
    dates: Annotated[
        int, typer.Option("--dates", min=1, max=6, help="Looks side by side; 1 leaves a wide box.")
    ] = 6,
    numbers: Numbers = 15,
    paper: Paper = "a4",
    language: Language = "en",
    out: Out = None,
) -> None:
    """Check sheet: a row for each open founding, a box for each day.

    Write in a box what check notes take: living queens, workers, what was seen. Typed behind the
    number, log understands it.
    """
    from cohort.desk.print import CheckRow, check_sheet

    own = _voice(language)
    if study is None:
        rows = tuple(CheckRow(number) for number in _numbers(keeper, (), numbers))
    else:
        from cohort.desk.print.open import open_rows
        from cohort.study import read_study

        rows = open_rows(read_study(study, without_faulty=True), keeper)
        if not rows:
            raise _none_open(keeper)
    today = dt.date.today()
    foot = own.say("checks_foot", day=today.isoformat())
    pdf = check_sheet(rows, keeper=keeper, dates=dates, foot=foot, paper=paper, language=language)
    _write(out or Path(f"checks-{_safe(keeper)}{today.isoformat()}.pdf"), pdf, own)


def labels(
    study: Study = None,
    keeper: Keeper = "",
    numbers: Numbers = 26,
    first: Annotated[
        int,
        typer.Option(
            "--first",
            min=0,
            max=99999,
            show_default=False,
            help="First number; the next free one if not given.",
        ),
    ] = 0,
    every: Annotated[
        bool,
        typer.Option("--all", help="Labels of the foundings that are open, with kind and day 0."),
    ] = False,
    paper: Paper = "a4",
    language: Language = "en",
    out: Out = None,
) -> None:
    """Labels, two of each number; without --keeper a sheet for each keeper of the study.

    With --all one file for the whole study: a label for each founding that is open.
    """
    from cohort.desk.print import label_sheet

    own = _voice(language)
    known = _known(study)
    if every:
        open_ones = _open_labels(study, keeper, own)
        pdf = label_sheet(open_ones, line=known.season, paper=paper, language=language)
        _write(out or Path(f"labels-{_safe(keeper)}{dt.date.today().isoformat()}.pdf"), pdf, own)
        return
    for sign in _for_each(keeper, known, out):
        used = (f"{sign or '__'}-{first - 1}",) if first else known.used
        there = _numbers(sign, used, numbers)
        pdf = label_sheet(there, line=known.season, paper=paper, language=language)
        _write(out or Path(f"labels-{_safe(sign)}{dt.date.today().isoformat()}.pdf"), pdf, own)
        if known.used and sign and not first:
            say([own.say("labels_to_come", first=there[0], last=there[-1])])


def _open_labels(study: Path | None, keeper: str, own: Voice) -> tuple[Label, ...]:
    from cohort.desk.print.open import open_labels
    from cohort.study import read_study

    if study is None:
        raise typer.BadParameter("Name the study whose labels you want.", param_hint="--all")
    found = open_labels(read_study(study, without_faulty=True), keeper, own)
    if not found:
        raise _none_open(keeper)
    return found


def _none_open(keeper: str) -> StudyError:
    whose = f" of keeper {keeper}" if keeper else ""
    return StudyError(f"No founding{whose} is open. There is nothing to print.")


def _numbers(keeper: str, used: tuple[str, ...], count: int) -> tuple[str, ...]:
    from cohort.sheets.numbers import next_numbers

    return next_numbers(keeper or "__", used, count)


class Known(NamedTuple):
    """What a study tells the paper: numbers given out, reasons agreed, season, keepers."""

    used: tuple[str, ...] = ()
    leave_out: tuple[str, ...] = ()
    season: str = ""
    signs: tuple[str, ...] = ()


def _known(study: Path | None) -> Known:
    if study is None:
        return Known()
    from cohort.audit.settings import read_settings
    from cohort.desk.print.signs import signs
    from cohort.desk.whose import foundings_typed
    from cohort.sheets.folder import read_folder
    from cohort.sheets.lists import read_lists

    sheets = read_folder(study)
    settings, _ = read_settings(sheets.of("study"))
    used = (*foundings_typed(sheets), *(str(n) for n in read_lists(study)["founding"]))
    return Known(used, tuple(settings.leave_out), str(settings.season), signs(study, sheets))


def _for_each(keeper: str, known: Known, out: Path | None) -> tuple[str, ...]:
    """Signs that get a sheet each: the one asked for, else all; blank where there are none."""
    if keeper:
        from cohort.sheets.numbers import as_known

        return (as_known(keeper, known.signs),)
    if out is not None and len(known.signs) > 1:
        raise StudyError(
            f"The study has several keepers ({', '.join(known.signs)}) and each gets a sheet of "
            "their own. Say whose with --keeper, or leave out --out for all of them. Nothing was "
            "written."
        )
    return known.signs or ("",)


def _safe(keeper: str) -> str:
    from cohort.sheets.append import safe_name

    return f"{safe_name(keeper)}-" if keeper else ""


def _write(path: Path, pdf: bytes, own: Voice) -> None:
    put_pdf(path, pdf)
    say([own.say("wrote", path=str(path))])


def put_pdf(path: Path, pdf: bytes) -> None:
    """Write a PDF in place of an older one, and over nothing else.

    Raises
    ------
    StudyError
        A file of that name is there and is no PDF.
    """
    from cohort.sheets.put import replace

    path.parent.mkdir(parents=True, exist_ok=True)
    if path.exists() and not path.read_bytes().startswith(b"%PDF"):
        raise StudyError(
            f"{path} is there already and is no PDF; it was not written over. Give another name "
            "with --out."
        )
    replace(path, pdf)
