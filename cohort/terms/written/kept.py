"""The study as a folder of results keeps it, so that pictures and page can be made again.

What comes in: nothing. What goes out: the columns of the tables in ``study/``. They hold what
pictures, page and history go by, and nothing a keeper wrote for herself: no note, no photograph,
no place of a catch, and keepers by number unless the study shows them.
"""

from __future__ import annotations

from typing import Final

from cohort.terms.contract import COVARIATES
from cohort.terms.written.shape import Written, as_typed, date, flag, number, text, whole

FOLDER: Final = "study"
_BY: Final = "compare, newsletter"
_UNSAID: Final = "not noted"
_KIND: Final = "Kind, in its keeper's word"

STUDY_SETTINGS: Final = Written(
    "study_settings",
    f"{FOLDER}/settings.csv",
    _BY,
    "one setting of the study",
    (
        text("setting", "Its name, as in the sheet `study`"),
        text("value", "Its value, as it is typed there"),
    ),
)
STUDY_FOUNDINGS: Final = Written(
    "study_foundings",
    f"{FOLDER}/foundings.csv",
    _BY,
    "one founding, as its sheet has it",
    (
        text("founding", "Its number"),
        text("genus", "Genus, or its keeper's word for a kind not yet named"),
        flag("named", "Whether the genus is known"),
        text("kind", _KIND, _UNSAID),
        text("species", "Species as typed", _UNSAID),
        text("season", "Season of its flight, as its study names it", _UNSAID),
        date("started", "Day 0: the last queen of the group went in"),
        whole("queens", "Queens on day 0", "queens"),
        text("arm", "`single` or `multi`"),
        text("left_out", "Why it stands outside the comparison", "it does not"),
        text("assigned", "How its way was settled", _UNSAID),
        text("block", "Block of the drawn list", "not drawn"),
        text("keeper", "Keeper, by number unless the study says show_keepers", _UNSAID),
        text("catch", "Catch that the queens came from", _UNSAID),
        text("from_", "Founding it was parted from", "it was not"),
        date("flight_date", "Day of the flight", _UNSAID),
        date("followed_from", "Day first followed, if later than started", "followed from day 0"),
        *(as_typed(column, _UNSAID) for column in COVARIATES),
        text("shelf", "Shelf of the temperature sheet", _UNSAID),
        whole("mating_seen", "Queens seen mating", "queens", _UNSAID),
        text("marked", "Whether the queens are marked one by one: `yes`, `no`", _UNSAID),
        number("give_or_take", "Days by which `started` may be wrong", "days"),
    ),
)
STUDY_CHECKS: Final = Written(
    "study_checks",
    f"{FOLDER}/checks.csv",
    _BY,
    "one look at one founding; a look at all the others stands once for each",
    (
        text("founding", "Its number"),
        date("date", "Day of the look"),
        whole("queens_alive", "Living queens", "queens", "not looked at"),
        flag("at_least", "Whether that is a least number"),
        whole("workers", "Workers", "workers", "not looked at"),
        flag("workers_at_least", "Whether that is a least number"),
        text("brood", "Furthest stage of brood seen", "not looked at"),
        text("fed", "Whether food was given: `yes`, `no`", _UNSAID),
        number("give_or_take", "Days by which the date may be wrong", "days"),
        flag("from_rest", "Whether the row stood for all foundings not named that day"),
    ),
)
STUDY_EVENTS: Final = Written(
    "study_events",
    f"{FOLDER}/events.csv",
    _BY,
    "one event of one founding",
    (
        text("founding", "Its number"),
        date("date", "Day; it happened after that day's look"),
        text("event", "What happened"),
        whole("number", "How many queens, or workers killed", "number", _UNSAID),
        text("other", "Where to, why, or what was killed", _UNSAID),
    ),
)
STUDY_CATCHES: Final = Written(
    "study_catches",
    f"{FOLDER}/catches.csv",
    _BY,
    "one catch of queens",
    (
        text("catch", "Its number"),
        date("date", "Day or night of the catch", _UNSAID),
        text("kind", _KIND, _UNSAID),
        text("genus", "Genus, or its keeper's word for a kind not yet named", _UNSAID),
        whole("queens", "Queens kept", "queens", _UNSAID),
        text("method", "How they were caught", _UNSAID),
        text("not_kept", "How many were not kept, as typed", _UNSAID),
        text("not_kept_why", "What became of the ones not kept", _UNSAID),
        whole("died", "Queens that died before they were set up", "queens", _UNSAID),
    ),
)
STUDY_KINDS: Final = Written(
    "study_kinds",
    f"{FOLDER}/kinds.csv",
    _BY,
    "one kind",
    (
        text("kind", _KIND),
        text("genus", "Genus", "not known yet"),
        text("species", "Species", _UNSAID),
        text("id_confidence", "How sure the genus is: `sure`, `likely`, `guess`", _UNSAID),
        date("first_called", "Day on which it got its genus", "from the start, or not yet"),
    ),
)
STUDY_TEMPERATURES: Final = Written(
    "study_temperatures",
    f"{FOLDER}/temperatures.csv",
    _BY,
    "one day of one shelf",
    (
        text("shelf", "Shelf"),
        date("date", "Day of the reading"),
        number("min_c", "Lowest since the row before", "degrees Celsius", _UNSAID),
        number("max_c", "Highest since the row before", "degrees Celsius", _UNSAID),
    ),
)
STUDY_FAULTY: Final = Written(
    "study_faulty",
    f"{FOLDER}/faulty.csv",
    _BY,
    "one founding that was left out for an error in its sheets",
    (
        text("founding", "Its number"),
        text("why", "What is wrong"),
    ),
)
