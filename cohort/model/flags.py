"""Rows of checks, which of them are flagged, and what each flag says.

Comes in: numbers by group of what was seen and of replicated studies. Goes out: the table of
checks, and one dict per flag. Never: a sentence; those are in the catalogues of the page.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Any, Final

import numpy as np
import numpy.typing as npt
import pandas as pd

from cohort.model import statistics_by_group as stats
from cohort.model import tail_areas
from cohort.model.tallies import IN_WINDOWS

Floats = npt.NDArray[np.float64]
COLUMNS: Final = (
    "check",
    "by",
    "group",
    "genus",
    "observed",
    "expected",
    "low",
    "high",
    "tail_area",
    "flagged",
    "touches",
)
type Numbers = tuple[float, float, float, float]
"""Observed, expected, low, high."""
FAMILIES: Final = {"all": 0, "way": 2, "genus": 2, "month": 2}
"""Families that share the false alarms allowed (see `tail_areas`); 1 where not named."""
ALLOTMENT: Final = "allotment"
"""How the names of checks of the allotment begin, see `cohort.model.balance`."""
BROKEN_OFF: Final = "broken_off"
"""Records that stop without a reason, see `cohort.model.broken_off`."""
ACCIDENTS: Final = "ended_by_mishap"
"""Records that stop by an accident or an escape."""
ALL_QUESTIONS: Final = (
    "queen_survival",
    "first_worker",
    "queens_after_workers",
    "colony",
    "first_brood",
)
TOUCHES: Final[Mapping[str, tuple[str, ...]]] = {
    "losses_before_workers": ("queen_survival", "colony"),
    "losses_after_workers": ("queen_survival", "queens_after_workers", "colony"),
    "all_lost": ("queen_survival", "colony"),
    "with_workers": ("first_worker", "colony"),
    stats.DAY: ("first_worker", "colony"),
    stats.SPREAD: ("first_worker",),
    stats.SKEW: ("first_worker",),
    stats.CLUSTERS: ("first_worker",),
    "losses_before_by_size": ("queen_survival", "colony"),
    "losses_after_by_size": ("queen_survival", "queens_after_workers", "colony"),
    "queens_lost": ("queen_survival", "queens_after_workers", "colony"),
    "worst_fortnight": ("queen_survival", "queens_after_workers", "colony"),
    "largest_loss": ("queen_survival", "queens_after_workers"),
    "looks_with_loss": ("queen_survival", "first_worker", "queens_after_workers", "colony"),
    "losses_long_gaps": ("queen_survival", "first_worker", "queens_after_workers", "colony"),
    "losses_after_first": ("queen_survival", "colony"),
    "allotment": ALL_QUESTIONS,
    "allotment_day": ALL_QUESTIONS,
    "allotment_mating": ALL_QUESTIONS,
    BROKEN_OFF: ALL_QUESTIONS,
    ACCIDENTS: ALL_QUESTIONS,
}
"""Questions of `cohort.terms.questions` whose answers rest on what a check looks at."""
SAYS: Final[Mapping[str, tuple[str, str]]] = {
    stats.DAY: ("later", "earlier"),
    stats.SPREAD: ("wider", "narrower"),
    stats.SKEW: ("stragglers", "early_ones"),
    stats.CLUSTERS: ("clusters", "one_bunch"),
    "losses_before_by_size": ("from_larger", "from_smaller"),
    "losses_after_by_size": ("from_larger", "from_smaller"),
    "largest_loss": ("loss_at_once", "loss_piecemeal"),
    "worst_fortnight": ("bad_fortnight", "no_bad_fortnight"),
    "looks_with_loss": ("looks_at_losses", "looks_past_losses"),
    "losses_long_gaps": ("long_gaps_more", "long_gaps_fewer"),
    "losses_after_first": ("losses_follow", "losses_apart"),
    "allotment": ("more_groups", "fewer_groups"),
    "allotment_day": ("groups_late", "groups_early"),
    "allotment_mating": ("groups_mated", "singles_mated"),
    BROKEN_OFF: ("broken_off", "broken_off"),
    ACCIDENTS: ("accidents", "accidents"),
}
"""What a flag says, of more and of less than expected; ``more`` and ``fewer`` where not named."""


def touches(check: str) -> tuple[str, ...]:
    """Questions that a check bears on."""
    return TOUCHES[IN_WINDOWS.get(check, check)]


def row(
    check: str,
    by: str,
    group: str,
    numbers: Numbers,
    area: float,
    *,
    bears_on: Sequence[str] | None = None,
    genus: str = "",
) -> dict[str, Any]:
    """One row of the table of checks, not flagged yet.

    Parameters
    ----------
    check, by, group : str
    numbers : tuple of float
        Observed, expected, low, high.
    area : float
    bears_on : sequence of str, optional
        Questions, where they are not those of `TOUCHES`.
    genus : str
        Genus it speaks of, where the group is none.
    """
    seen, expected, low, high = numbers
    asked = touches(check) if bears_on is None else bears_on
    return {
        "check": check,
        "by": by,
        "group": group,
        "genus": group if by == "genus" else genus,
        "observed": seen,
        "expected": expected,
        "low": low,
        "high": high,
        "tail_area": area,
        "flagged": False,
        "touches": " ".join(asked),
    }


def _asked(group: stats.Group, check: str, seen: Mapping[str, Floats]) -> bool:
    if not group.large:
        return False
    with_workers = seen["with_workers"][0][group.mine].sum()
    if check in stats.SHAPES:
        return bool(with_workers >= stats.LEAST_WITH_WORKERS)
    return check != stats.DAY or bool(with_workers >= 2)


def _filled(values: Floats) -> Floats | None:
    """Replicates without such a number take the mean of the others; None where most have none."""
    known = np.isfinite(values)
    if known.mean() < 0.5:
        return None
    return values if known.all() else np.where(known, values, values[known].mean())


def rows(
    drawn: Mapping[stats.Key, Floats],
    observed: Mapping[stats.Key, Floats],
    tallied: Mapping[str, Floats],
    groups: tuple[stats.Group, ...],
    *,
    seed: int,
    level: float = 0.9,
) -> list[dict[str, Any]]:
    """Rows of the table of checks.

    Parameters
    ----------
    drawn, observed : mapping of (check, by, group) to float array
        Of `stats.statistics`: one value per replicated study, and the one that was seen.
    tallied : mapping of str to float array
        What was seen of each founding.
    groups : tuple of Group
    seed : int
        Of what spreads counts over half a unit.
    level : float
        Mass between ``low`` and ``high``.
    """
    rng = np.random.default_rng(seed)
    out = []
    for group in groups:
        for check in group.checks:
            key = check, group.by, group.name
            seen = float(observed[key][0])
            if not _asked(group, check, tallied) or not np.isfinite(seen):
                continue
            values = _filled(drawn[key])
            if values is None or (values == seen).all():  # as where no gap is a long one
                continue
            if check not in stats.NOT_WHOLE:
                values = tail_areas.spread_evenly(values, rng)
            found = tail_areas.given_margins(values, seen, *_margins(key, groups, drawn, observed))
            if found is None:
                continue
            moved, expected = found
            tail = (1 - level) / 2
            low, high = (float(v) for v in np.quantile(moved, [tail, 1 - tail]))
            area = tail_areas.tail_area(moved, seen)
            numbers = _shown(check, (seen, expected, low, high))
            out.append(row(check, group.by, group.name, numbers, area))
    return out


def _margins(
    key: stats.Key,
    groups: tuple[stats.Group, ...],
    drawn: Mapping[stats.Key, Floats],
    observed: Mapping[stats.Key, Floats],
) -> tuple[Floats, Floats]:
    """Margins of a check that every study has, replicated and seen."""
    columns, seen = [], []
    for margin in stats.margins(key, groups):
        values = _filled(drawn[margin])
        if values is not None and np.isfinite(observed[margin][0]):
            columns.append(values)
            seen.append(float(observed[margin][0]))
    studies = len(drawn[key])
    table = np.stack(columns, axis=1) if columns else np.zeros((studies, 0))
    return table, np.array(seen)


def _shown(check: str, numbers: Numbers) -> Numbers:
    """A day as a day, a count within what can be."""
    seen, expected, low, high = numbers
    if check == stats.DAY:
        return math.exp(seen), math.exp(expected), math.exp(low), math.exp(high)
    if check in stats.NOT_WHOLE:
        return numbers
    return seen, max(expected, 0.0), _whole(low), _whole(high)


def _whole(end: float) -> float:
    return float(round(max(end, 0.0)))


def as_table(rows: Sequence[Mapping[str, Any]]) -> pd.DataFrame:
    """The table of checks; those of the model and those of the allotment are flagged apart.

    They are two questions: does the model miss something, and were the ways of founding alike
    beforehand? Among a hundred numbers on the first, six on the second would be drowned. What has
    no tail area is flagged above its ``high``.
    """
    table = pd.DataFrame(list(rows), columns=list(COLUMNS))
    family = np.array([FAMILIES.get(by, 1) for by in table["by"]], np.int64)
    areas = table["tail_area"].to_numpy(float)
    allotment = table["check"].astype(str).str.startswith(ALLOTMENT).to_numpy(bool)
    found = table["observed"].to_numpy(float) > table["high"].to_numpy(float)
    for part in (allotment, ~allotment & ~np.isnan(areas)):
        found[part] = tail_areas.flagged(areas[part], family[part])
    return table.assign(flagged=found)


def unnamed(table: pd.DataFrame) -> pd.DataFrame:
    """The table of checks with keepers numbered, for files beside a page that names none."""
    of_keeper = table["by"].astype(str).str.startswith("keeper")
    names = sorted(set(table.loc[of_keeper, "group"]))
    number = {name: str(i) for i, name in enumerate(names, 1)}
    return table.assign(group=table["group"].where(~of_keeper, table["group"].map(number)))


def flags(table: pd.DataFrame) -> tuple[dict[str, Any], ...]:
    """What is flagged, the least likely first.

    Returns
    -------
    tuple of dict
        ``check``, ``by``, ``group``, ``genus`` (blank: all), ``observed``, ``expected``,
        ``tail_area`` (None where it has none), ``touches`` (questions, a list), ``says`` (key of
        the sentence in a catalogue of the page, without its ``flag_``).
    """
    wanted = ("check", "by", "group", "genus", "observed", "expected", "tail_area")
    out = []
    for found in table[table["flagged"]].sort_values("tail_area", kind="stable").to_dict("records"):
        up, down = SAYS.get(str(found["check"]), ("more", "fewer"))
        more = float(found["observed"]) > float(found["expected"])
        out.append(
            {name: None if pd.isna(found[name]) else found[name] for name in wanted}
            | {"touches": str(found["touches"]).split(), "says": up if more else down}
        )
    return tuple(out)
