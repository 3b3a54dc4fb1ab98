"""What we would do next season: how to divide some queens, by the draws of this comparison.

In come the draws behind the results; out come sentences, kind by kind, and what belongs to the
picture of the first of them. The same queens each alone
stand beside every division. Never computes a chance: `cohort.plan` does.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import pandas as pd

from cohort.base.errors import StudyError
from cohort.figures.material import Material, days_to_speak_of, each, kinds_to_name
from cohort.figures.names import of_100
from cohort.newsletter.speech import Voice, without_marks
from cohort.newsletter.tables import Table
from cohort.newsletter.words import alone, can_compare
from cohort.nonparametric.followed import compared
from cohort.terms.questions import NEW

if TYPE_CHECKING:
    from cohort.outcomes.basis import Basis
    from cohort.plan import Plan

DRAWS: Final = 500
COLONY: Final = "chance_per_founding"
KINDS: Final = 2
"""Kinds spoken of by name, those with a verdict and most foundings; then one nobody has tried."""
POINTS, COLONIES = 0.05, 0.1
"""Chances, and colonies of a set, that are nearer than this come to about the same."""


def basis_for(material: Material, folder: Path) -> Basis | None:
    """Draws behind the results, if the folder holds those of this very comparison."""
    if not can_compare(material) or not (folder / "draws.nc").exists():
        return None
    from cohort.outcomes.basis import results_basis

    try:
        basis = results_basis(folder, draws=DRAWS)
    except StudyError:  # of another study or another version: nothing is planned from them
        return None
    mine = {str(name) for name in compared(material.history.foundings)["founding"]}
    return basis if basis.foundings == mine else None


@dataclass(frozen=True)
class Planned:
    """Some queens of one kind and how they may be divided.

    Parameters
    ----------
    genus : str
        Kind (`new` for one nobody has tried).
    named : bool
        True when the kind bears a scientific name.
    plan : Plan
    """

    genus: str
    named: bool
    plan: Plan


def plans(material: Material, basis: Basis | None) -> tuple[Planned, ...]:
    """Plans for the best-known kinds and one nobody has tried; empty when nothing can be said."""
    days = days_to_speak_of(material, COLONY)
    size = material.size
    if basis is None or not days or size < 2:
        return ()
    from cohort.outcomes.basis import Kind
    from cohort.plan import plan

    kinds = kinds_to_name(material)[:KINDS]
    asked = [(k.genus, k.named, basis.genus(k.genus), _last_day(material, k.genus)) for k in kinds]
    if not alone(material):
        asked.append((NEW, False, -1, days[-1]))
    queens = size + 1  # the fewest that can be divided with a whole group among them
    level = float(material.results.comparisons["level"].iloc[0])
    return tuple(
        Planned(genus, named, plan(queens, Kind(genus, index), basis, largest=size, day=day,
                                   level=level))
        for genus, named, index, day in asked
        if day
    )  # fmt: skip


def _last_day(material: Material, genus: str) -> int:
    """Last day that may be spoken of for a kind; 0: none."""
    return max(days_to_speak_of(material, COLONY, genus), default=0)


def sentences(made: tuple[Planned, ...], voice: Voice) -> tuple[str, ...]:
    """What a keeper might do next season; empty when nothing was planned."""
    would = [_would(voice, one) for one in made]
    alike = len(set(would)) == 1  # said once, after the last
    out = [
        _of_kind(voice, one) if alike else f"{_of_kind(voice, one)} {so}"
        for one, so in zip(made, would, strict=True)
    ]
    teaches = next((text for p in made if (text := _teaches(voice, p.plan))), "")
    last = " ".join(text for text in (would[0] if alike else "", teaches) if text)
    return (*out, last) if last else tuple(out)


# ------------------------------------------------------------------ the picture


def title(made: Planned, voice: Voice) -> str:
    """What stands over the picture."""
    return without_marks(_queens(made, voice))


def _queens(made: Planned, voice: Voice) -> str:
    return voice.cap(voice.some_queens(made.plan.queens, made.genus, made.named))


def texts(made: Planned, voice: Voice) -> dict[str, str]:
    """Caption, short caption and what the picture says to a reader who cannot see it."""
    kind = voice.kind(made.genus, made.named)
    words = {"k": voice.word(made.plan.queens), "kind": kind, "day": made.plan.day}
    return {
        "caption": voice.say("cap_plan", **words),
        "short": voice.say("short_plan", **words),
        "alt": without_marks(f"{_of_kind(voice, made)} {_would(voice, made)}"),
    }


def table(frame: pd.DataFrame, voice: Voice) -> Table:
    """Numbers of the picture."""
    heads = ("t_division", "t_one", "t_low", "t_high", "t_two", "t_low", "t_high", "t_colonies")
    names = ("one", "one_low", "one_high", "two", "two_low", "two_high")
    return Table(
        tuple(voice.say(head) for head in heads),
        tuple(
            (_whole(row.division), *(voice.write(round(getattr(row, name))) for name in names),
             voice.decimal(float(row.colonies)))
            for row in each(frame)
        ),
    )  # fmt: skip


def _of_kind(voice: Voice, made: Planned) -> str:
    what = made.plan
    alone, group = _alone(what.table), _best_group(what.table)
    return " ".join(
        (
            voice.say(
                "next_alone", queens=_queens(made, voice), day=what.day, **_numbers(voice, alone)
            ),
            voice.say("next_group", division=_whole(group.division), **_numbers(voice, group)),
        )
    )


def _would(voice: Voice, made: Planned) -> str:
    """What we would do, in one sentence."""
    alone, group = _alone(made.plan.table), _best_group(made.plan.table)
    word, division = verdict(alone, group), _whole(group.division)
    key, _, way = word.partition("_")
    ways = (voice.say("way_single"), division)
    first, second = ways if word in ("more_together", "surer_singly") else ways[::-1]
    return voice.say(f"next_{key if way else word}", division=division, first=first, second=second)


def verdict(alone: Any, group: Any) -> str:
    """Key of what we would do.

    ``singly`` or ``together`` where that way is surer of one colony and brings no fewer,
    ``more_singly`` or ``more_together`` where one colony is about as likely and only their number
    differs, ``surer_singly`` or ``surer_together`` where the aims go apart, ``same``.
    """
    lead = float(group.at_least_one) - float(alone.at_least_one)
    more = float(group.colonies) - float(alone.colonies)
    ahead = (lead > POINTS) - (lead < -POINTS), (more > COLONIES) - (more < -COLONIES)
    if ahead == (0, 0):
        return "same"
    way = "together" if ahead > (0, 0) else "singly"
    if ahead[0] == 0:
        return f"more_{way}"
    return f"surer_{way}" if ahead[0] * ahead[1] < 0 else way


def _alone(table: pd.DataFrame) -> Any:
    return next(each(table[[set(parts) == {1} for parts in table["parts"]]]))


def _best_group(table: pd.DataFrame) -> Any:
    groups = table[[max(parts) > 1 for parts in table["parts"]]]
    return next(each(groups.sort_values(["at_least_one", "colonies"], ascending=False)))


def _whole(division: object) -> str:
    """A division that no line breaks."""
    return str(division).replace(" ", "\u00a0")


def _numbers(voice: Voice, row: Any) -> dict[str, str]:
    return {
        "mean": voice.write(of_100(float(row.at_least_one))),
        "low": voice.write(of_100(float(row.at_least_one_low))),
        "high": voice.write(of_100(float(row.at_least_one_high))),
        "count": voice.decimal(float(row.colonies)),
    }


def _teaches(voice: Voice, what: Plan) -> str:
    table = what.table.dropna(subset="narrowing")
    if table.empty:
        return ""
    top = table.iloc[int(table["narrowing"].to_numpy().argmax())]
    return voice.say("next_teach", division=_whole(top["division"]))
