"""Commands of the analyst: ``cohort simulate``.

In: what was typed. Out: a study folder with a known truth, one line on the screen.
Never: overwrites anything, or computes: the work is done in :mod:`cohort.simulate`.
"""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from cohort.cli.asked import day_of
from cohort.cli.say import echo

if TYPE_CHECKING:
    from cohort.simulate.truth import Truth

__all__ = ["register", "simulate"]

PANEL = "For analysts"

#: Genera that a number stands for, in this order.
NAMES = (
    "Lasius", "Messor", "Formica", "Tetramorium", "Camponotus", "Myrmica",
    "Crematogaster", "Temnothorax", "Aphaenogaster", "Pheidole", "Pogonomyrmex", "Tapinoma",
)  # fmt: skip


def _genera(text: str) -> tuple[str, ...]:
    if text.strip().isdigit():
        count = int(text)
        if not 1 <= count <= len(NAMES):
            raise typer.BadParameter(
                f"A number of genera lies between 1 and {len(NAMES)}; for more, give their names "
                "with commas between.",
                param_hint="--genera",
            )
        return NAMES[:count]
    names = tuple(name.strip() for name in text.split(",") if name.strip())
    if not names or len(set(names)) != len(names) or not all(n[0].isalpha() for n in names):
        raise typer.BadParameter(
            f"'{text}' is no list of different names. Write 6, or Lasius,Messor.",
            param_hint="--genera",
        )
    return names


def _sizes(text: str) -> tuple[int, ...]:
    parts = [part.strip() for part in text.split(",") if part.strip()]
    if not parts or not all(part.isdigit() and int(part) >= 1 for part in parts):
        raise typer.BadParameter(
            f"'{text}' is no list of queens per founding. Write whole numbers from 1 up, such as "
            "1,3.",
            param_hint="--sizes",
        )
    return tuple(int(part) for part in parts)


def _day(text: str, option: str) -> dt.date | None:
    return day_of(text, option) if text else None


def _truth(path: Path | None, genera: tuple[str, ...], seed: int) -> Truth:
    """Return the truth in a file, or one draw from the priors."""
    import numpy as np

    from cohort.base.errors import StudyError
    from cohort.simulate.truth import Truth, draw_truth

    if path is None:
        return draw_truth(genera, np.random.default_rng([seed, 1]))
    try:
        return Truth.from_json(path.read_text(encoding="utf-8"))
    except OSError as fault:
        raise StudyError(f"{path} cannot be opened: {fault.strerror}.") from fault
    except (ValueError, KeyError, TypeError, AttributeError) as fault:
        raise StudyError(
            f"{path} is no truth of a simulated study: {fault}. Take the truth.json that "
            "`cohort simulate` wrote, and change the numbers in it only."
        ) from fault


def simulate(
    out: Annotated[Path, typer.Argument(help="New folder for the study.", metavar="OUT")],
    foundings: Annotated[int, typer.Option(help="Foundings begun.")] = 64,
    genera: Annotated[str, typer.Option(help="How many genera, or their names.")] = "6",
    sizes: Annotated[str, typer.Option(help="Queens per founding, commas between.")] = "1,3",
    keepers: Annotated[int, typer.Option(help="Keepers.")] = 4,
    every: Annotated[int, typer.Option(help="Days between looks.")] = 7,
    calendar: Annotated[
        str, typer.Option(help="every, shelf (one day for a whole shelf) or irregular.")
    ] = "every",
    horizon: Annotated[int, typer.Option(help="Days each founding is followed.")] = 180,
    delayed: Annotated[float, typer.Option(help="Share (0-1) of foundings met late.")] = 0.0,
    removals: Annotated[float, typer.Option(help="Share of groups that give a queen away.")] = 0.0,
    seen: Annotated[float, typer.Option(help="Share of queens seen mating.")] = 0.0,
    blank: Annotated[float, typer.Option(help="Share of looks without a count of workers.")] = 0.0,
    winter: Annotated[str, typer.Option(help="Day (YYYY-MM-DD) on which all go cold.")] = "",
    spring: Annotated[str, typer.Option(help="Day on which all are warm again, if any.")] = "",
    seed: Annotated[int, typer.Option(min=0, help="Seed of all chance.")] = 1,
    truth: Annotated[
        Path | None, typer.Option(help="A truth.json; without it one is drawn from the priors.")
    ] = None,
) -> None:
    """Make a study whose truth is known, as the sheets a club would send.

    The truth lies beside the sheets in truth.json, which no command reads by itself.
    """
    from cohort.cli.stop import keeps
    from cohort.simulate.design import Design
    from cohort.simulate.season import simulate_study

    keeps(lambda: "Nothing was written.")
    try:
        design = Design(
            foundings=foundings,
            sizes=_sizes(sizes),
            keepers=keepers,
            look_every=every,
            calendar=calendar,
            horizon=horizon,
            delayed=delayed,
            removals=removals,
            seen=seen,
            blank=blank,
            winter=_day(winter, "--winter"),
            spring=_day(spring, "--spring"),
            title=f"A simulated season (seed {seed})",
        )
    except ValueError as fault:
        raise typer.BadParameter(f"{fault}.") from fault
    study = simulate_study(design, _truth(truth, _genera(genera), seed), seed)
    keeps(lambda: f"The sheets in {out} are not whole: delete them.")
    study.write(out)
    known = len(study.fates)
    lost = f" ({foundings - known} were lost before anyone met them)" if known < foundings else ""
    echo(
        f"{out}: {known} foundings of {study.fates['genus'].nunique()} genera{lost}. "
        "The truth is in truth.json."
    )


def register(app: typer.Typer) -> None:
    """Add the commands of this group."""
    app.command(rich_help_panel=PANEL)(simulate)
