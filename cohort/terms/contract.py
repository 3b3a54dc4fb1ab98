"""The sheets of a study, column by column (contract version 1).

What comes in: the fixed words of `cohort.terms.words`. What goes out: `SHEETS`. Blank sheets,
audit, docs and messages are made from it. A column that no rule, figure or model part reads is
not in it.
"""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from cohort.terms import words
from cohort.terms.adjusting import SEEN
from cohort.terms.columns import Column, Kind, Need, Sheet

CONTRACT_VERSION = 1


def _word(name: str, allowed: Mapping[str, str], example: str, meaning: str) -> Column:
    return Column(name, "no", "word", tuple(allowed), example, meaning, meanings=allowed)


def _plain(
    name: str,
    kind: Kind,
    example: str,
    meaning: str,
    *,
    need: Need = "no",
    unit: str = "",
    at_least: bool = False,
) -> Column:
    return Column(name, need, kind, (), example, meaning, unit=unit, at_least=at_least)


def _yes_no(name: str, meaning: str) -> Column:
    return Column(name, "no", "yes-no", tuple(words.YES_NO), "yes", meaning, meanings=words.YES_NO)


_SETTINGS = (
    _plain("title", "text", "Riverside club, founding together or alone", "Title of the study"),
    _plain("season", "text", "2026", "Season it speaks of"),
    _plain(
        "horizon_days",
        "count",
        "180",
        "Last day that is compared, as agreed at the start; counted from day 0",
        unit="days",
    ),
    _plain("ends", "date", "2026-12-15", "Last day of the study"),
    _word("clock", words.CLOCK, "setup", "From which day the days are counted"),
    _word(
        "date_order",
        words.DATE_ORDER,
        "dmy",
        "How dates typed as text are read; blank: a date that could be two days is refused",
    ),
    _plain("place", "text", "river plain, south", "Where, coarsely; never an address"),
    _word(
        "leave_out",
        words.LEFT_OUT,
        "mites, boosted",
        "Reasons for leaving a founding out, agreed before the first look; commas between",
    ),
    _word("fight_rule", words.FIGHT_RULE, "leave", "What is done when queens fight"),
    _plain("primary_question", "text", "colony", "The question agreed at the start"),
    _word(
        "adjust",
        words.ADJUST,
        "feeding",
        "Other differences that the comparison allows for; commas between. A plain list may move "
        "survival before and with workers; or name what each may move: before: feeding, housing; "
        "after: feeding; first worker: housing; mated: housing",
    ),
    _yes_no("show_keepers", "Whether keepers may be told apart in what is printed"),
    _plain("photo_credit", "text", "members of the club", "Line printed under photographs"),
    _plain("look_every", "count", "4", "Days between two looks as agreed", unit="days"),
    _yes_no(
        "through_winter",
        "Whether foundings are followed through winter rest, up to the horizon; else up to the "
        "first day of it",
    ),
)

SETTINGS: Mapping[str, Column] = MappingProxyType({column.name: column for column in _SETTINGS})

STUDY = Sheet(
    "study",
    "The study as a whole: one setting a row (or `study.toml`)",
    (
        _plain("setting", "text", "horizon_days", "Name of the setting", need="yes"),
        _plain("value", "text", "180", "Its value"),
    ),
)

KINDS = Sheet(
    "kinds",
    "One row for each thing that looks alike to its keeper, named or not",
    (
        _plain("kind", "id", "big-black", "Own short word for the kind", need="yes"),
        _plain("genus", "genus", "Lasius", "Genus; blank: not known yet"),
        _plain("species", "text", "niger", "Species, if known"),
        _word("id_confidence", words.CONFIDENCE, "likely", "How sure the genus is"),
        _plain("first_called", "date", "2026-09-02", "Day on which it got its genus, if later"),
        _plain("called", "text", "black garden ant", "Common name"),
    ),
)

FOUNDINGS = Sheet(
    "foundings",
    "One row for each founding: a container closed with one queen or several",
    (
        _plain("founding", "id", "K2-07", "Its number, never used again", need="yes"),
        _plain("genus", "genus", "Lasius", "Genus; or fill in kind", need="one-of"),
        _plain(
            "kind", "id", "big-black", "Kind from the sheet kinds; or fill in genus", need="one-of"
        ),
        _plain("species", "text", "niger", "Species, if known"),
        _plain(
            "started",
            "date",
            "2026-07-04",
            "Day 0: the last queen of the group went in",
            need="yes",
        ),
        _plain(
            "queens", "count", "3", "Queens at the start, at least 1", need="yes", unit="queens"
        ),
        _word(
            "arm", words.ARMS, "multi", "Way of founding; blank: single with one queen, else multi"
        ),
        _word(
            "left_out",
            words.LEFT_OUT,
            "mites",
            "Why it is left out of the comparison; blank: it is in",
        ),
        _word("assigned", words.ASSIGNED, "random", "How the way of founding was settled"),
        _plain("block", "text", "B3", "Block of the drawn list"),
        _plain("keeper", "text", "K2", "Who keeps it (a short sign, not a name)"),
        _plain("catch", "id", "C12", "Catch that the queens came from"),
        _plain("from", "id", "K2-03", "Founding it was parted from"),
        _plain("flight_date", "date", "2026-07-03", "Day of the flight"),
        _plain("followed_from", "date", "2026-07-20", "Day first followed, if later than started"),
        _word("housing", words.HOUSING, "test-tube", "What the queens are kept in"),
        Column(
            "feeding",
            "no",
            "word",
            (*words.FEEDING, *words.FEEDING_ALSO),
            "none",
            "Feeding before the first workers",
            meanings=words.FEEDING,
        ),
        _plain("shelf", "id", "S1", "Shelf of the sheet temperatures"),
        _plain("mating_seen", "count", "1", "Queens that were seen mating", unit="queens"),
        _yes_no("marked", "Whether the queens are marked one by one"),
        _plain("give_or_take", "days", "2", "Days by which started may be wrong", unit="days"),
        _plain("photo", "text", "K2-07_start.jpg", "File of a photograph"),
        _plain("note", "text", "pale wings", "Anything else; never printed"),
    ),
)

COVARIATES: tuple[Column, ...] = tuple(
    column for column in FOUNDINGS.columns if column.name in words.ADJUST and column.name != SEEN
)
"""Columns of foundings by which a comparison may be adjusted; study, history and ``foundings.csv``
have them as typed. Matings seen are a number of the model besides, so a blank is 0 there."""

CHECKS = Sheet(
    "checks",
    "One row for each look at a founding",
    (
        _plain(
            "founding",
            "id",
            "K2-07",
            "Its number; `rest`: all open foundings of this file not named that day",
            need="yes",
        ),
        _plain("date", "date", "2026-07-08", "Day of the look", need="yes"),
        _plain(
            "queens_alive",
            "count",
            "3",
            "Living queens; blank: not looked at; 5+: at least five; same: with `rest` only",
            unit="queens",
            at_least=True,
        ),
        _plain(
            "workers",
            "count",
            "0",
            "Workers, pale ones too; blank: not looked at",
            unit="workers",
            at_least=True,
        ),
        _word("brood", words.BROOD, "larvae", "Furthest stage of brood seen"),
        _yes_no("fed", "Whether food was given"),
        _plain("give_or_take", "days", "1", "Days by which the date may be wrong", unit="days"),
        _plain("photo", "text", "K2-07_0708.jpg", "File of a photograph"),
        _plain("note", "text", "calm", "Anything else; never printed"),
        _plain(
            "corrects",
            "date",
            "2026-07-08",
            "Day of an earlier look at it, in place of which this row is read; else blank",
        ),
    ),
)

EVENTS = Sheet(
    "events",
    "Rare things: queens taken out, fights, winter rest, ends",
    (
        _plain(
            "founding",
            "id",
            "K2-07",
            "Its number; `all`: every open founding of this file",
            need="yes",
        ),
        _plain("date", "date", "2026-08-20", "Day; it happened after that day's look", need="yes"),
        Column(
            "event",
            "yes",
            "word",
            tuple(words.EVENTS),
            "end",
            "What happened",
            meanings=words.EVENTS,
        ),
        _plain("number", "count", "1", "How many queens (or workers killed)"),
        _plain("other", "text", "given", "Where to, why, or what was killed"),
        _plain("note", "text", "lid left open", "Anything else; never printed"),
    ),
)

CATCHES = Sheet(
    "catches",
    "One row for each catch of queens",
    (
        _plain("catch", "id", "C12", "Its number", need="yes"),
        _plain("date", "date", "2026-07-03", "Day or night of the catch", need="yes"),
        _plain(
            "kind", "id", "big-black", "Kind from the sheet kinds; or fill in genus", need="one-of"
        ),
        _plain("genus", "genus", "Lasius", "Genus; or fill in kind", need="one-of"),
        _plain("queens", "count", "6", "Queens kept", need="yes", unit="queens"),
        _word("method", words.METHOD, "light", "How they were caught"),
        _plain("keeper", "text", "K2", "Who caught them"),
        _plain("place", "text", "river plain", "Where, coarsely"),
        _plain("not_kept", "text", "about 20", "How many were not kept; may be rough"),
        _word("not_kept_why", words.NOT_KEPT_WHY, "released", "What became of the ones not kept"),
        _plain("died", "count", "1", "Queens that died before they were set up", unit="queens"),
    ),
)

TEMPERATURES = Sheet(
    "temperatures",
    "Warmth of a shelf: lowest and highest since the row before; with a row for every day, "
    "the days to first workers are counted by warmth (degree-days)",
    (
        _plain("shelf", "id", "S1", "Shelf", need="yes"),
        _plain("date", "date", "2026-07-08", "Day of the reading", need="yes"),
        _plain("min_c", "number", "19.5", "Lowest, degrees Celsius", need="yes", unit="deg C"),
        _plain("max_c", "number", "24", "Highest, degrees Celsius", need="yes", unit="deg C"),
    ),
)

SHEETS: Mapping[str, Sheet] = MappingProxyType(
    {
        sheet.name: sheet
        for sheet in (STUDY, KINDS, FOUNDINGS, CHECKS, EVENTS, CATCHES, TEMPERATURES)
    }
)

SHEET_NAMES: tuple[str, ...] = tuple(SHEETS)
