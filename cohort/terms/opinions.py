"""What the methods of the second opinion leave out, and why they may differ from the model.

What comes in: nothing. What goes out: a clause for each code. Every language of the page has each
clause in its catalogue as well.
"""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

IGNORES: Mapping[str, str] = MappingProxyType(
    {
        "aft": "it takes a founding without workers to be late, though its queens may be unmated",
        "incidence": "it dates the first worker at the look that showed it, and takes all kinds "
        "and group sizes together",
        "incidence_jittered": "it does the same, and parts events of one day by chance",
        "brackets": "it takes a founding that lost all its queens as one that was followed no "
        "further, and all kinds and group sizes together",
        "brackets_closed": "it does the same, and lets two brackets that meet on a day share it: "
        "it is here as a check, and where the two differ, hold to the row above",
        "logrank": "it compares containers: a group has more queens to lose than one queen alone",
        "cox": "it compares containers as well, and takes the ratio of risks to be the same on "
        "every day",
        "exact": "it compares containers, and only those whose fate on that day is known",
        "counted": "it uses only foundings whose fate on that day is known, and kinds with at "
        "least as many single queens as a group has",
        "lots": "it asks only whether company made any difference, and takes for company whatever "
        "a whole container shares",
    }
)
"""By method, in the order of the table."""
_CALENDAR = "days are those of the calendar, winter rest among them"
_COLD = "a day in winter rest counts like any other, though in the cold fewer queens may die"
IN_WINTER: Mapping[str, str] = MappingProxyType(
    {
        "aft": "days of winter rest are not counted, as in the model",
        **dict.fromkeys(
            ("incidence", "incidence_jittered", "brackets", "brackets_closed"), _CALENDAR
        ),
        **dict.fromkeys(("logrank", "cox"), _COLD),
    }
)
"""What is added where foundings were followed through winter; the others go by one day alone."""
DIFFERS: Mapping[str, str] = MappingProxyType(
    {
        "barren": "the model allows for queens that are not mated, so a founding without workers "
        "need not be a late one",
        "prior": "the model also goes by what was assumed beforehand",
        "looks": "the model dates a first worker between two looks and not at the later one",
        "equal": "the model's average counts every kind alike, whatever its number of foundings",
        "size": "the model's number is for the commonest group size only",
        "others": "in the model a kind leans on the other kinds",
        "unexplained": "none of the reasons tried accounts for it",
    }
)
"""By the one point in which a method was changed to see whether it comes nearer to the model."""
UNDONE: Mapping[str, str] = MappingProxyType(
    {
        "few": "too few foundings",
        "no_event": "in one way of founding it never happened",
        "no_fit": "the fit did not settle",
    }
)
"""Why a method gave no number."""
