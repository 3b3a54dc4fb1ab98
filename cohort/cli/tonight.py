"""The command for the night of the catch.

What comes in: words on the command line. What goes out: one screen, and a page of labels when
asked. No statistics is written here.
"""

from __future__ import annotations

import secrets
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, NamedTuple

import typer

from cohort.base.errors import StudyError
from cohort.cli.asked import AsJson, From, Language, misuse, print_json
from cohort.cli.progress import progress, told_of_first_run
from cohort.cli.say import echo, say, table

if TYPE_CHECKING:
    from cohort.desk.allot import Lot
    from cohort.terms.voice import Voice
    from cohort.tonight import Tonight
    from cohort.tonight.night import Aside

PANEL = "Before the season"


def register(app: typer.Typer) -> None:
    """Add the command of this file."""
    app.command(rich_help_panel=PANEL)(tonight)


class Known(NamedTuple):
    """What a study tells of the queens asked for."""

    word: str
    genus: str
    species: str
    used: tuple[str, ...] = ()
    agreed: tuple[str, ...] | None = None
    season: str = ""
    keeper: str = ""


def tonight(
    queens: Annotated[
        int, typer.Option("--queens", min=1, show_default=False, help="Queens caught, of one kind.")
    ],
    genus: Annotated[
        str,
        typer.Option(
            "--genus",
            metavar="KIND",
            show_default=False,
            help="Genus, with the species if you know it; or a kind of the study.",
        ),
    ],
    results: From = None,
    study: Annotated[
        Path | None,
        typer.Option(
            "--study",
            metavar="STUDY",
            show_default=False,
            help="Folder of the study: its kinds, agreed reasons and next numbers.",
        ),
    ] = None,
    keeper: Annotated[
        str,
        typer.Option("--keeper", metavar="SIGN", show_default=False, help="Whose queens they are."),
    ] = "",
    aside: Annotated[
        list[str] | None,
        typer.Option(
            "--set-aside",
            metavar="N:REASON",
            show_default=False,
            help="Queens that are not divided, such as 1:mites or 1:other. May be repeated.",
        ),
    ] = None,
    want: Annotated[
        str,
        typer.Option(
            "--want", metavar="AIM", help="What you want: one, many or workers, as in plan."
        ),
    ] = "one",
    lot: Annotated[bool, typer.Option("--lot", help="Draw which queens go where.")] = False,
    seed: Annotated[
        int | None,
        typer.Option(
            "--seed", min=0, show_default=False, help="Seed of the lot; drawn if not given."
        ),
    ] = None,
    labels: Annotated[
        Path | None,
        typer.Option(
            "--labels",
            metavar="FILE.pdf",
            show_default=False,
            help="Write labels for these containers.",
        ),
    ] = None,
    paper: Annotated[
        str, typer.Option("--paper", help="Paper of the labels: a4 or letter.")
    ] = "a4",
    language: Language = "en",
    as_json: AsJson = False,
) -> None:
    """Tell what to do with the queens of one night, on one screen.

    How to look at them, how we would divide them and how sure that is, what it would teach, the
    lot, the labels. With --from it goes by your results. Without, it goes by what is published on
    the genus or its near kin, with the papers, and says so where there is nothing.
    """
    from cohort.outcomes.basis import basis_of
    from cohort.plan.advice import wanted
    from cohort.plan.asked import asked
    from cohort.plan.phrases import speaks as plan_speaks
    from cohort.plan.plan import DAY
    from cohort.tonight import tonight as worked_out
    from cohort.tonight.words import speaks

    with misuse("--language"):
        own, planned = speaks(language), plan_speaks(language)
    with misuse("--want"):
        want = wanted(want)
    known = _known(genus, study, keeper)
    with misuse("--set-aside"):
        put = _aside(aside or [], known.agreed)
    with progress(as_json, short=True) as tell:
        told_of_first_run(tell)
        basis = basis_of(results, draws=1000)
        with misuse("--genus"):
            whom = asked(_asked_for(known, basis.draws.genera), basis, planned)
        day = min(DAY, basis.last_day(whom.kind.index)) if basis.settled else DAY
        before = basis_of(None, draws=1000) if basis.settled else None
        with misuse("--queens, --set-aside"):
            what = worked_out(
                known.word, known.genus, known.species, queens, whom, basis,
                aside=put, want=want, day=day, before=before,
            )  # fmt: skip
    drawn = seed if seed is not None else secrets.randbelow(2**31)
    able = what.plan is not None and not what.refused
    lots = what.lots(drawn, known.keeper) if able and lot and what.to_draw else None
    if as_json:
        from cohort.tonight.values import as_json as values

        if able and labels is not None:
            _write_labels(labels, what, known, own.language, paper)
        print_json(values(what, own, lots, drawn))
        return
    _show(what, known, study, own, lots=lots, seed=drawn, labels=labels, paper=paper)


def _known(word: str, study: Path | None, keeper: str) -> Known:
    """Kind, genus and species meant, and what the study has given out."""
    from cohort.terms.genera import spelled, split_name

    word = " ".join(word.split())
    first, species = split_name(word)
    right = spelled(first)
    plain = Known(right or word, right, species if right else "", keeper=keeper)
    if study is None:
        return plain
    from cohort.audit.settings import read_settings
    from cohort.desk.allot_study import kinds_of
    from cohort.desk.print.signs import signs
    from cohort.desk.whose import foundings_typed
    from cohort.sheets.folder import read_folder
    from cohort.sheets.lists import read_lists
    from cohort.sheets.numbers import as_known

    sheets = read_folder(study)
    settings, _ = read_settings(sheets.of("study"))
    kinds = {name.lower(): (name, *pair) for name, pair in kinds_of(sheets).items()}
    used = (*foundings_typed(sheets), *(str(n) for n in read_lists(study)["founding"]))
    who = signs(study, sheets)
    mine = as_known(keeper, who) if keeper else (who[0] if len(who) == 1 else "")
    if word.lower() in kinds:
        name, genus, species = kinds[word.lower()]
        plain = Known(name, spelled(genus), species)
    return plain._replace(
        used=used, agreed=tuple(settings.leave_out), season=str(settings.season), keeper=mine
    )


def _asked_for(known: Known, genera: tuple[str, ...]) -> str:
    """What the plan is asked for: the kind where results have it, else its genus, else new."""
    from cohort.terms.questions import NEW

    if known.word.lower() in {name.lower() for name in genera} or known.agreed is None:
        return " ".join(part for part in (known.word, known.species) if part)
    return " ".join(part for part in (known.genus, known.species) if part) or NEW


def _aside(texts: list[str], agreed: tuple[str, ...] | None) -> tuple[Aside, ...]:
    from cohort.terms.near import did_you_mean
    from cohort.terms.words import LEFT_OUT
    from cohort.tonight.night import Aside

    out = []
    for text in texts:
        number, _, reason = text.partition(":")
        reason = reason.strip() or "mites"
        count = number.strip()
        if not (count.isascii() and count.isdigit() and 0 < len(count) < 6):
            raise StudyError(
                f"'{text}' is not understood. Write queens and reason, such as 1:mites."
            )
        if reason not in LEFT_OUT:
            hint = did_you_mean(reason, LEFT_OUT)
            raise StudyError(
                f"'{reason}' is no reason to set a queen aside. Write one of "
                f"{', '.join(LEFT_OUT)}.{f' {hint}' if hint else ''}"
            )
        if agreed is not None and reason not in agreed:
            raise StudyError(
                f"'{reason}' is not among the reasons agreed before the season "
                f"({', '.join(agreed) or 'none'}). Divide these queens with the others, or agree "
                "on it in the tab study (leave_out) before the first look."
            )
        out.append(Aside(int(count), reason))
    return tuple(out)


def _show(
    what: Tonight, known: Known, study: Path | None, own: Voice, *,
    lots: tuple[Lot, ...] | None, seed: int, labels: Path | None, paper: str,
) -> None:  # fmt: skip
    from cohort.tonight import words

    say(words.first_lines(what, own))
    say(words.advice_lines(what, own))
    if what.plan is None or what.refused:
        return
    if (divided := words.table_of(what, own)) is not None:
        headings, rows, title = divided
        echo("")
        table(headings, rows, title=title)
    say(words.teach_lines(what, own))
    say(words.lot_lines(what, lots, seed, own))
    where = "" if study is None else str(study)
    if lots is not None:
        echo(own.say("lot_keep" if where else "lot_nowhere"))
        for line in words.allot_command(what, where, known.keeper, seed) if where else ():
            typer.echo(line)
    if labels is None:
        kept = bool(where) and lots is not None
        line = words.labels_command(what, where, known.keeper, kept=kept)
        typer.echo(f"{own.say('labels_say')} {line}")
    else:
        _write_labels(labels, what, known, own.language, paper)
        echo(own.say("wrote", path=str(labels)))
    echo(own.say("sheet"))


def _write_labels(path: Path, what: Tonight, known: Known, language: str, paper: str) -> None:
    from cohort.cli.print_commands import put_pdf
    from cohort.desk.print import label_sheet
    from cohort.sheets.numbers import next_numbers

    numbers = next_numbers(known.keeper or "__", known.used, len(what.parts))
    put_pdf(path, label_sheet(numbers, line=known.season, paper=paper, language=language))
