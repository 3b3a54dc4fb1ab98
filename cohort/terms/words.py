"""The fixed words of the sheets, each with its meaning.

What comes in: nothing. What goes out: one mapping word -> meaning for every column that takes
fixed words. Blank sheets, the audit, the help and the messages are made from these; a word is
written nowhere else. Nothing is read or checked here.
"""

from __future__ import annotations

from types import MappingProxyType

from cohort.terms import tongues

Words = MappingProxyType[str, str]

YEARS = (1950, 2150)
"""First and last year of a date that can be right, in a sheet or on the command line."""


def _words(**meanings: str) -> Words:
    return MappingProxyType({word.replace("_", "-"): text for word, text in meanings.items()})


ARMS = _words(
    single="one queen founds alone",
    multi="several queens found together",
)

LEFT_OUT = _words(
    mites="the queen carried mites",
    other_parasite="another parasite or a disease was seen",
    social_parasite="of a kind that cannot found alone",
    boosted="foreign brood or workers were given at the start",
    split_off="parted from another founding (see `from`)",
    other="another reason; say which in the note",
)

ASSIGNED = _words(
    random="by the drawn list",
    chosen="the keeper chose",
    found_together="the queens were found together",
    only_one="only one queen of the kind was there",
)

HOUSING = _words(
    test_tube="test tube with water behind cotton",
    vial="small tube or vial without a water chamber",
    plaster_nest="nest or dish of plaster",
    concrete_nest="nest of aerated concrete",
    acrylic_nest="nest of acrylic sheets",
    printed_nest="printed plastic nest",
    box="plain box or dish",
    soil="jar or box filled with soil or sand",
    wood="wood, bark, a nut or a hollow stem",
    leaf="leaves or a tube for weaving kinds",
    fungus_chamber="chamber for a fungus garden",
    other="another container; say which in the note",
)

FEEDING = _words(
    none="nothing until the first workers (claustral)",
    fed="fed before the first workers (semi-claustral)",
)

# Read as the words above: what keepers call the two ways of founding.
FEEDING_ALSO = MappingProxyType({"claustral": "none", "semi-claustral": "fed"})

YES_NO = _words(yes="yes", no="no")

BROOD = _words(
    none="looked, no brood",
    eggs="eggs",
    larvae="larvae",
    pupae="pupae",
)

# Read as the words above, in sheets and in check notes.
BROOD_ALSO = MappingProxyType(
    {
        "egg": "eggs",
        "larva": "larvae",
        "pupa": "pupae",
        "no brood": "none",
        "no-brood": "none",
        **tongues.BROOD,
    }
)

CONFIDENCE = _words(
    sure="certain of the genus",
    likely="probably this genus",
    guess="a guess",
)

METHOD = _words(
    light="at a light",
    hand="picked up by hand",
    chamber="dug from a founding chamber",
    trap="in a trap",
    given="given by somebody",
    bought="bought",
    other="another way",
)

NOT_KEPT_WHY = _words(
    released="released where they were found",
    frozen="chilled, then deep-frozen",
)

EVENTS = _words(
    queens_out="queens taken out alive (other: new founding, given, released, escaped, preserved)",
    queens_in="queens put in; the founding is followed no further",
    brood_in="foreign brood or workers put in",
    moved="moved to another container",
    fight="queens seen fighting or biting",
    killed="seen killed (other: queens, workers, unknown)",
    males="males came out",
    brood_gone="brood gone",
    mould="mould in the container",
    dry="the water ran dry",
    flood="the container was flooded",
    winter_in="put to winter rest",
    winter_out="taken from winter rest",
    handed_over="another keeper looks after it from the next day on (other: the keeper's sign)",
    end="the founding is followed no further (other: why)",
)

QUEENS_OUT_TO = _words(
    given="given away",
    released="released where they were found",
    escaped="escaped",
    preserved="preserved for a collection",
)

KILLED_WHAT = _words(queens="queens", workers="workers", unknown="not known which")

END_WHY = _words(
    given="given away",
    released="released where it was found",
    escaped="all escaped",
    gave_up="the keeper stopped looking after it",
    accident="lost by an accident (spilt, dropped, dried out, mould took all)",
    joined="put together with another founding",
    frozen="chilled, then deep-frozen",
    not_used="not needed any more",
)

# Events whose `other` takes one of these words (queens-out also takes a founding).
OTHER_WORDS = MappingProxyType({"queens-out": QUEENS_OUT_TO, "killed": KILLED_WHAT, "end": END_WHY})

# Events that need a number of queens to be of use.
NEEDS_NUMBER = ("queens-out", "queens-in")

# What a check note may call an event: words in the order people write them -> event.
EVENT_ALSO = MappingProxyType(
    {
        "fighting": "fight",
        "mold": "mould",
        "winter in": "winter-in",
        "winter out": "winter-out",
        **tongues.EVENTS,
    }
)

# Words of a check note that tell of a first worker; the count of workers says the same.
FIRST_WORKER = ("first worker", "first workers", *tongues.FIRST_WORKER)

# Words of a check note that fill the column `fed`.
FED = MappingProxyType({"not fed": "no", "fed": "yes", **tongues.FED})

# What keepers write in place of an event, by how the sheets say it. None of it is read as the
# event: whether all queens left or some, only the keeper knows (`cohort.terms.instead`).
LEFT = MappingProxyType(
    {
        "escaped": "escaped",
        "fled": "escaped",
        "released": "released",
        "given": "given",
        "gifted": "given",
        "sold": "given",
        "swapped": "given",
        "preserved": "preserved",
        **tongues.LEFT,
    }
)
ENDED = MappingProxyType(
    {
        "gave up": "gave-up",
        "gave-up": "gave-up",
        "accident": "accident",
        "spilt": "accident",
        "spilled": "accident",
        "dropped": "accident",
        "joined": "joined",
        "merged": "joined",
        "united": "joined",
        "frozen": "frozen",
        "not used": "not-used",
        "not-used": "not-used",
        **tongues.ENDED,
    }
)
PARTED = ("split", "parted", "separated", "divided", *tongues.PARTED)
WINTER_REST = ("winter-in", "winter-out")
WINTER = ("winter", "wintering", "hibernation", "hibernating", "diapause", *tongues.WINTER)
DIED = ("dead", "died", "death", "lost", *tongues.DIED)
DEAD = ("dead", "died", *tongues.DIED)  # of these it is plain that no living queen is meant

# Words beside a number in a check note that say what was counted.
QUEENS = ("queens", "queen", "q", *tongues.QUEENS)
WORKERS = ("workers", "worker", "w", "nanitics", "nanitic", *tongues.WORKERS)
NO_WORKERS = ("no workers", "no worker", *tongues.NO_WORKERS)
EVERY = ("all", *tongues.EVERY)
NONE_ALIVE = ("none alive", "no queen alive", "no queens alive", *tongues.NONE_ALIVE)

# Words and signs before a number that is not exact.
ABOUT = (
    "about",
    "around",
    "roughly",
    "approx",
    "approx.",
    "ca",
    "ca.",
    "c.",
    "circa",
    "almost",
    "nearly",
    "maybe",
    "~",
    "≈",
    "±",
    *tongues.ABOUT,
)

# What stands before a date and says no more than it.
WEEKDAYS = frozenset(
    {*tongues.WEEKDAYS, "on", "the", "tues", "thur", "thurs"}
    | {
        name[:size]
        for name in ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday")
        for size in (3, len(name))
    }
)

_ENGLISH = (
    "january", "february", "march", "april", "may", "june", "july", "august", "september",
    "october", "november", "december",
)  # fmt: skip
# Name of a month, or its beginning -> number.
MONTHS = MappingProxyType(
    {
        **tongues.MONTHS,
        **{
            name[:size]: number
            for number, name in enumerate(_ENGLISH, 1)
            for size in range(3, len(name) + 1)
        },
    }
)

CLOCK = _words(
    setup="days count from the day the last queen went in",
    flight="days count from the flight",
)

DATE_ORDER = _words(
    dmy="day, month, year",
    mdy="month, day, year",
    ymd="year, month, day",
)

FIGHT_RULE = MappingProxyType(
    {
        "leave": "fighting queens are left together",
        "part-at-first-bite": "fighting queens are parted at the first bite",
        "keeper's-choice": "each keeper decides",
    }
)

# Columns of `foundings` by which a comparison may be adjusted, and the shelf log's mean warmth.
ADJUST = MappingProxyType(
    {
        "feeding": "fed before the first workers or not",
        "housing": "container",
        "mating_seen": "queens that were seen mating",
        "shelf_temperature": "mean warmth of the shelf",
    }
)
ADJUST_ALSO = MappingProxyType({"temperature": "shelf_temperature", "mating-seen": "mating_seen"})

REST = "rest"  # a founding cell that stands for every open founding not named that day
ALL = "all"  # a founding cell of events that stands for every open founding
SAME = "same"  # a count as at the last look
RESERVED_IDS = (REST, ALL, SAME)
THE_REST = (
    "the rest",
    "the others",
    "all others",
    "all the others",
    "all other",
    "others",
    "everything else",
    *tongues.THE_REST,
)  # what people write for it in a message
AS_BEFORE = (
    "same as before",
    "the same as before",
    "same as last time",
    "as before",
    "as last time",
    "the same",
    "same",
    "unchanged",
    "no change",
    *tongues.AS_BEFORE,
)
