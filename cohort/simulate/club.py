"""The club and the season behind the demo study: an invention of our own, set down by hand.

In: nothing.
Out: constants: the kinds and how they truly found, catches and how they were divided, what
befell some of them by chance or by hand.
Never: describes a real person, club or place. Only the directions of the differences between
genera lean on published work (``data/findings.csv``); the sizes are made up.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from cohort.simulate.truth import GenusTruth

__all__ = [
    "CATCHES",
    "HAPPENINGS",
    "KEEPERS",
    "KINDS",
    "SEED",
    "SETTINGS",
    "SPOILT",
    "TRUTHS",
    "WINTER",
    "Catch",
    "Happening",
]

#: Recorded seed of the demo study.
SEED = 20250510

KEEPERS = ("K1", "K2", "K3", "K4")

#: Everything stands in the cold from the first day to the second; life is slow there.
WINTER = {
    "K1": ("2025-11-29", "2026-03-07"),
    "K2": ("2025-11-30", "2026-03-08"),
    "K3": ("2025-11-28", "2026-03-06"),
    "K4": ("2025-11-26", "2026-03-11"),
}

SETTINGS = """\
title = "Old Quarry Ant Circle: founding together or alone"
season = "2025"
horizon_days = 180
ends = 2026-03-31
clock = "setup"
date_order = "ymd"
place = "limestone hills with old quarries"
leave_out = ["mites", "other-parasite", "social-parasite", "boosted", "split-off", "other"]
fight_rule = "keeper's-choice"
primary_question = "colony"
show_keepers = false
photo_credit = "members of the circle"
look_every = 5
"""


def _kind(
    per_day: float,
    together: float,
    rivalry: float,
    both: float,
    median: float,
    mated: float,
    workers: float,
    *,
    doubling: float = 0.0,
) -> GenusTruth:
    """Truth of one kind from plain numbers: chances per day, log ratios, days, workers."""
    return GenusTruth(
        log_hazard=math.log(per_day),
        together=together,
        doubling=doubling,
        founding_steps=(0.5, 0.2, 0.0, -0.1, -0.2),
        log_hazard_workers=math.log(0.0015),
        worker_steps=(0.0, 0.2, -0.1, -0.4),
        rivalry=rivalry,
        last_fight=both,
        log_median_day=math.log(median),
        multi_days=-0.06,
        within_days=0.12,
        mated=mated,
        frailty=0.5,
        log_brood=math.log(workers),
        brood_ratio=0.4,
        brood_spread=0.4,
    )


TRUTHS = {
    "Messor": _kind(0.0025, 0.5, 1.6, 0.12, 40, 0.95, 9),
    "Camponotus": _kind(0.0020, 0.2, 1.9, 0.18, 52, 0.90, 6),
    "Tetramorium": _kind(0.0032, -0.5, 1.8, 0.15, 38, 0.90, 14),
    "Formica": _kind(0.0030, 0.5, 0.8, 0.10, 43, 0.90, 8, doubling=0.4),
    "Lasius": _kind(0.0035, -0.3, 2.3, 0.22, 41, 0.88, 12),
    "Temnothorax": _kind(0.0022, -0.2, 0.4, 0.08, 58, 0.92, 5),
    "Myrmica": _kind(0.0045, -0.4, -0.2, 0.05, 60, 0.85, 5),
    "Crematogaster": _kind(0.0030, 0.6, 1.2, 0.15, 54, 0.90, 7),
    "Aphaenogaster": _kind(0.0025, 0.1, 1.0, 0.10, 50, 0.90, 6),
    "dull-brown": _kind(0.0030, 0.0, 1.5, 0.15, 47, 0.80, 10),
    "tiny-black": _kind(0.0035, -0.2, 0.6, 0.10, 44, 0.85, 9),
}

#: kind, genus, species, id_confidence, first_called, called
KINDS = (
    ("dull-brown", "", "", "", "", "middling, brown and dull"),
    ("tiny-black", "", "", "", "", "small black, shiny"),
    ("amber-leg", "Aphaenogaster", "", "likely", "2025-09-06", "long amber legs"),
)


@dataclass(frozen=True)
class Catch:
    """Queens of one kind taken in on one day, and the groups they were divided into.

    Parameters
    ----------
    keeper, date, what : str
        Who, the day (ISO), and the genus or the keeper's own word for the kind.
    sizes : tuple of int
        Queens of each founding, in order of the founding numbers.
    method, place : str
        How and (coarsely) where.
    not_kept, why : str
        How many were not kept, in the keeper's words, and what became of them.
    died : int
        Queens that died before they were set up.
    assigned : str
        How the way of founding was settled.
    wait : int
        Days from the catch to the start.
    extra : tuple of (int, str, str)
        For the nth founding of the catch (from 0): column of the sheet, value.
    """

    keeper: str
    date: str
    what: str
    sizes: tuple[int, ...]
    method: str = "hand"
    place: str = "quarry floor"
    not_kept: str = ""
    why: str = ""
    died: int = 0
    assigned: str = "random"
    wait: int = 1
    extra: tuple[tuple[int, str, str], ...] = ()


HUT = "white sheet at the quarry hut"
# fmt: off
CATCHES = (
    Catch("K1", "2025-05-10", "Messor", (1, 3, 3, 1), "hand", "quarry floor", "about 20",
          "released", extra=((1, "marked", "yes"), (2, "marked", "yes"))),
    Catch("K2", "2025-05-11", "Messor", (3, 1, 5, 1), "hand", "quarry floor", "12", "released"),
    Catch("K4", "2025-05-11", "Messor", (1, 3), "chamber", "vineyard edge"),
    Catch("K4", "2025-05-20", "Camponotus", (1,), "given", "", assigned="",
          extra=((0, "followed_from", "2025-06-25"), (0, "note", "came with eggs and larvae"))),
    Catch("K2", "2025-05-22", "Camponotus", (1, 3, 1, 2), "light", HUT, died=1),
    Catch("K3", "2025-05-24", "Camponotus", (3, 1, 3, 1), "light", HUT, "a few",
          "released", extra=((3, "left_out", "boosted"), (3, "assigned", "chosen"),
                             (3, "note", "got five pupae on the first day"))),
    Catch("K1", "2025-06-03", "Tetramorium", (1, 3, 4, 1), "hand", "railway bank", "more than 50",
          "released"),
    Catch("K3", "2025-06-04", "Tetramorium", (3, 1, 2), "hand", "railway bank"),
    Catch("K2", "2025-06-05", "Tetramorium", (1,), "hand", "railway bank", assigned="only-one",
          extra=((0, "left_out", "other"), (0, "note", "two legs missing"))),
    Catch("K4", "2025-06-06", "Tetramorium", (1, 3), "trap", "allotment gardens", "7", "released"),
    Catch("K1", "2025-06-14", "dull-brown", (1, 3), "light", HUT, wait=0),
    Catch("K3", "2025-06-21", "Formica", (1, 3, 4, 1), "hand", "quarry rim"),
    Catch("K1", "2025-06-22", "Formica", (3, 1), "hand", "quarry rim", "4", "released"),
    Catch("K4", "2025-06-22", "Formica", (1, 3), "hand", "quarry rim",
          extra=((0, "give_or_take", "2"),)),
    Catch("K3", "2025-06-28", "tiny-black", (3, 1), "light", HUT),
    Catch("K2", "2025-07-01", "Temnothorax", (1, 3, 1, 2), "hand", "oak slope", wait=2),
    Catch("K4", "2025-07-02", "Temnothorax", (3, 1), "hand", "oak slope", wait=2),
    Catch("K1", "2025-07-09", "Lasius", (4, 1, 3, 1, 1), "hand", "market street", "hundreds",
          "released", 2, extra=((4, "left_out", "mites"), (4, "assigned", "chosen"))),
    Catch("K2", "2025-07-09", "Lasius", (1, 3, 3, 1, 1), "hand", "market street", "about 40",
          "released", extra=((4, "left_out", "mites"), (4, "assigned", "chosen"))),
    Catch("K3", "2025-07-10", "Lasius", (6, 1, 2, 1), "hand", "market street",
          extra=((0, "assigned", "chosen"), (2, "assigned", "found-together"))),
    Catch("K4", "2025-07-10", "Lasius", (1, 3, 1, 3), "hand", "allotment gardens",
          extra=((1, "mating_seen", "2"),)),
    Catch("K4", "2025-07-19", "Lasius", (1,), "hand", "allotment gardens", assigned="only-one",
          extra=((0, "species", "umbratus"), (0, "left_out", "social-parasite"))),
    Catch("K4", "2025-07-24", "amber-leg", (1, 3), "light", "oak slope", "3", "frozen"),
    Catch("K3", "2025-08-16", "Myrmica", (1, 3, 1, 2), "hand", "river terrace"),
    Catch("K4", "2025-08-17", "Myrmica", (3, 1), "hand", "river terrace"),
    Catch("K1", "2025-09-02", "Crematogaster", (1, 3), "light", HUT),
    Catch("K4", "2025-09-03", "Crematogaster", (2, 1), "bought", "", wait=3),
)
# fmt: on

#: Founding numbers that were spoilt in writing and never used again.
SPOILT = ("K2-09",)


@dataclass(frozen=True)
class Happening:
    """Something that befell one founding.

    Parameters
    ----------
    founding, what : str
        Its number and the event.
    day : int
        Earliest day since the start; it happens after the first look from then on.
    number : int
        Queens concerned.
    other, note : str
        As on the events sheet; ``new`` as `other` names the founding the queens went to.
    """

    founding: str
    what: str
    day: int
    number: int = 0
    other: str = ""
    note: str = ""


HAPPENINGS = (
    Happening("K1-08", "moved", 88),
    Happening("K1-13", "fight", 30, 0, "", "two pulling at the third"),
    Happening("K1-13", "queens-out", 30, 2, "new", "parted after biting"),
    Happening("K1-14", "end", 95, 0, "given"),
    Happening("K1-15", "queens-out", 60, 1, "given"),
    Happening("K2-05", "moved", 75),
    Happening("K2-13", "mould", 40, 0, "", "at the cotton"),
    Happening("K2-14", "brood-in", 24, 0, "", "four pupae of the same kind"),
    Happening("K3-02", "dry", 60, 0, "", "filled up again"),
    Happening("K3-12", "queens-out", 44, 1, "escaped", "plug was loose"),
    Happening("K3-17", "end", 33, 0, "accident", "tube fell from the shelf"),
    Happening("K4-09", "queens-in", 58, 1, "", "a spare queen of the same catch"),
    Happening("K4-15", "end", 84, 0, "gave-up"),
)
