"""All rules on all sheets of a study.

What comes in: `Sheets` and today's date. What goes out: `Examined`, the typed tables and every
finding. It stops at nothing: what is unusable is told, and the rest is examined all the same.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

import numpy as np
import pandas as pd

from cohort.audit import (
    catches,
    checks,
    counts,
    events,
    foundings,
    ids,
    remarks,
    rhythm,
    seasons,
    temperatures,
    winter,
)
from cohort.audit.allotted import taken_up
from cohort.audit.corrected import corrected, without_rows
from cohort.audit.find import tell
from cohort.audit.looks import Followed, followed
from cohort.audit.names import known_kinds, named, named_later
from cohort.audit.settings import Settings, read_settings
from cohort.audit.table import typed
from cohort.base.asked import day_of
from cohort.base.errors import Finding
from cohort.sheets.found import Found
from cohort.sheets.raw import Sheets
from cohort.terms import SHEETS


@dataclass(frozen=True)
class Examined:
    """A study as typed, with all that was found.

    Parameters
    ----------
    settings : Settings
    tables : dict of DataFrame
        Typed tables ``kinds``, ``foundings`` (with label, named, species), ``catches``,
        ``temperatures``.
    seen : Followed
        Looks and events, `rest` and `all` spread out.
    findings : Found
        Errors first, then warnings, then notes; each in order of file and row.
    """

    settings: Settings
    tables: dict[str, pd.DataFrame]
    seen: Followed
    findings: Found


def examine(sheets: Sheets, today: dt.date | None = None) -> Examined:
    """Read every cell of a study by the contract and hold it against every rule.

    Parameters
    ----------
    sheets : Sheets
        From `cohort.read_sheets`.
    today : date, optional
        Dates after it are errors; today's date by default.

    Returns
    -------
    Examined
        Nothing is raised: what is wrong stands in its ``findings``.

    Examples
    --------
    >>> import cohort
    >>> found = cohort.audit_sheets(cohort.read_sheets("data/demo")).findings
    >>> len(found.of_level("error"))
    0
    """
    today = day_of(today)
    settings, found = read_settings(sheets.of("study"))
    sheets, told = taken_up(sheets, settings.date_order)
    findings = Found.joined(sheets.notices, found, told)
    tables: dict[str, pd.DataFrame] = {}
    for name in ("kinds", "foundings", "checks", "events", "catches", "temperatures"):
        made = typed(SHEETS[name], sheets.of(name), order=settings.date_order, today=today)
        tables[name] = made.table
        findings += made.findings
    findings += _names(tables)
    mine = tables["foundings"]
    mine["keeper"] = ids.keepers(mine)
    for rule in (*foundings.RULES, seasons.season_named, seasons.block_of_one_season):
        findings += rule(mine, settings)
    tables["checks"]["code"] = ids.codes(tables["checks"]["founding"], mine)
    tables["events"]["other"] = events.other_as_listed(tables["events"])
    of_events = tables["events"]["founding"]
    tables["events"]["code"] = ids.with_shelves(ids.codes(of_events, mine), of_events, mine)
    tables["checks"], told, replaced = corrected(mine, tables["checks"])
    findings = without_rows(findings, replaced) + told
    seen = followed(mine, tables["checks"], tables["events"], replaced)
    findings += _looks_and_events(tables, seen, settings, today)
    findings += _rest(tables)
    findings += _nothing_there(sheets, tables)
    kept = {name: tables[name] for name in ("kinds", "foundings", "catches", "temperatures")}
    return Examined(settings, kept, seen, _in_order(findings))


def _names(tables: dict[str, pd.DataFrame]) -> Found:
    entries, findings = known_kinds(tables["kinds"])
    findings += named_later(tables["kinds"])
    for name in ("foundings", "catches"):
        labels, found = named(tables[name], entries)
        for column in labels:
            if column != "species" or name == "foundings":
                tables[name][column] = labels[column].to_numpy()
        findings += found
    return findings


def _looks_and_events(
    tables: dict[str, pd.DataFrame], seen: Followed, settings: Settings, today: dt.date
) -> Found:
    mine, looked, rare = tables["foundings"], tables["checks"], tables["events"]
    return Found.joined(
        checks.placed(mine, looked),
        checks.rest_rows(mine, looked),
        checks.inside_following(mine, looked, seen),
        checks.twice_a_day(seen),
        remarks.brood_in_note(seen),
        remarks.left_in_note(mine, seen),
        counts.count_rises(mine, seen),
        counts.more_out_than_alive(mine, seen),
        counts.workers_gone(seen),
        counts.counts_swapped(seen),
        counts.workers_after_loss(seen),
        rhythm.long_gaps(mine, seen, settings, today),
        rhythm.no_end(mine, seen, settings, today),
        events.placed(mine, rare),
        events.before_started(mine, rare),
        events.number_needed(rare),
        events.other_word(mine, rare),
        events.handed_over(mine, rare),
        events.new_founding(mine, rare),
        events.around_the_end(seen),
        events.winter_pairs(seen),
        winter.never_over(seen, settings, today),
        winter.second_winter(seen, settings),
        winter.looked_often(seen, settings),
        winter.first_worker_in_winter(seen),
        winter.not_of_the_rest(mine, rare, seen),
        events.repeated(rare),
    )


def _rest(tables: dict[str, pd.DataFrame]) -> Found:
    caught, log, mine = tables["catches"], tables["temperatures"], tables["foundings"]
    return Found.joined(
        catches.catch_twice(caught),
        catches.more_died_than_kept(caught),
        catches.set_up(caught, mine),
        temperatures.low_above_high(log),
        temperatures.fahrenheit(log),
        temperatures.believable(log),
        temperatures.shelf_twice(log),
        temperatures.shelf_known(log, mine),
    )


def _nothing_there(sheets: Sheets, tables: dict[str, pd.DataFrame]) -> list[Finding]:
    """No founding in any sheet: an error; no look yet: a note."""
    if not len(tables["foundings"]):
        first = next(iter(sheets.of("foundings")), None)
        return [
            Finding(
                level="error",
                rule="empty-sheet",
                file=first.file if first else "",
                tab=first.tab if first else "",
                what=tell("no_foundings"),
                remedy=tell("no_foundings_do"),
            )
        ]
    if not len(tables["checks"]):
        first = next(iter(sheets.of("checks")), None)
        return [
            Finding(
                level="warning" if first else "note",
                rule="empty-sheet",
                file=first.file if first else "",
                tab=first.tab if first else "",
                what=tell("no_looks"),
                remedy=tell("no_looks_do"),
            )
        ]
    return []


def _in_order(findings: Found) -> Found:
    """Each finding once, errors first; blank cells of a column that is missing are not told."""
    rules, names = findings.codes("rule")
    if "column-missing" in names and "cell-missing" in names:
        lacking = {
            (f.file, f.tab, name)
            for f in findings.take(rules == names.index("column-missing"))
            for name in f.column.split(" or ")
        }
        blank = np.flatnonzero(rules == names.index("cell-missing"))
        some = findings.take(blank)
        places = zip(some.values("file"), some.values("tab"), some.values("column"), strict=True)
        keep = np.ones(len(findings), dtype=bool)
        keep[blank] = [place not in lacking for place in places]
        findings = findings.take(keep)
    return findings.without_repeats().in_order()
