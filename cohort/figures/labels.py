"""Words that stand inside pictures, as one value per language.

In comes nothing; out comes `Labels`, every field of which a language must fill. The sentences
round the pictures are the newsletter's. Never holds a number.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Labels:
    """Axis words, names of ways and fates; `{n}` and the like are filled by the picture."""

    language: str
    single: str
    multi: str
    single_short: str
    multi_short: str
    together: str
    untried: str
    unnamed: str
    foundings: str
    queens: str
    founding_one: str
    queen_one: str
    days: str
    days_after_workers: str
    queens_alive: str
    with_workers: str
    counted: str
    model: str
    model_short: str
    none_left: str
    one_left: str
    several_left: str
    of_groups: str
    groups: str
    per_100_containers: str
    per_100_queens: str
    of_100_containers: str
    as_counted: str
    pooled: str
    difference: str
    singly_better: str
    together_better: str
    kept_together: str
    kept_singly: str
    any_colony: str
    colonies_each: str
    same_queens: str
    carried_over: str
    methods: dict[str, str]
    fates: dict[str, str]
    ends: dict[str, str]
    left_out: dict[str, str]
    steps: dict[str, str]
    checks: dict[str, str]
    not_known: str
    start: str
    first_worker: str
    loss: str
    all_lost: str
    first_day_axis: str
    expected: str
    happened: str
    of_100_queens: str
    numbers: dict[int, str]


ENGLISH = Labels(
    language="en",
    single="one queen",
    multi="several queens",
    single_short="one",
    multi_short="several",
    together="all kinds together",
    untried="a kind nobody here has tried",
    unnamed="{kind} (not yet named)",
    foundings="{n} foundings",
    queens="{n} queens",
    founding_one="1 founding",
    queen_one="1 queen",
    days="days since the founding",
    days_after_workers="days since the first worker",
    queens_alive="queens alive, of 100",
    with_workers="foundings with workers, of 100",
    counted="counted",
    model_short="model",
    model="line: as counted; shade: what the model makes of it",
    none_left="no queen left",
    one_left="one queen left",
    several_left="several queens left",
    of_groups="groups, of 100",
    groups="{n} groups",
    per_100_containers="colonies from 100 containers",
    per_100_queens="colonies from 100 queens",
    of_100_containers="containers with a colony, of 100",
    as_counted="as counted",
    pooled="with what the other kinds tell",
    difference="at least one colony: together less singly, of 100",
    singly_better="singly",
    together_better="together",
    kept_together="together",
    kept_singly="singly",
    any_colony="at least one colony, of 100 tries",
    colonies_each="colonies from the same queens",
    same_queens="{k} queens, both ways",
    carried_over="carried over from other kinds",
    methods={
        "light": "at a light",
        "hand": "by hand",
        "chamber": "dug from a chamber",
        "trap": "in a trap",
        "given": "given",
        "bought": "bought",
        "other": "other",
        "": "way not noted",
    },
    fates={
        "colony": "in a colony with workers",
        "waiting": "alive, no workers yet",
        "away": "taken out or no longer followed",
        "after": "lost after the first worker",
        "before": "lost before the first worker",
    },
    ends={
        "given": "given away",
        "released": "released",
        "escaped": "escaped",
        "preserved": "preserved",
        "accident": "accident",
        "gave-up": "given up",
        "parted": "group parted",
        "queens-in": "queens put in",
        "joined": "joined with another",
        "frozen": "frozen",
        "not-used": "not used",
        "winter": "winter",
    },
    left_out={
        "mites": "mites",
        "other-parasite": "other parasite",
        "social-parasite": "social parasite",
        "boosted": "foreign brood added",
        "split-off": "parted from a group",
        "other": "other reason",
        "faulty": "a fault in the sheets",
    },
    steps={
        "caught": "queens caught",
        "kept": "kept",
        "not_kept": "not kept",
        "released": "released",
        "frozen": "destroyed (frozen)",
        "unsaid": "not said what became of them",
        "died": "died before a founding",
        "no_line": "set apart, or no line says where",
        "from_catch": "into foundings",
        "other_source": "queens from no noted catch",
        "over": "more queens than the catch lines",
        "started": "foundings started",
        "left_out": "left out: {why}",
        "single": "kept singly",
        "multi": "kept together",
        "analysed": "in the comparison",
        "rough": "some lines give no number, so there were more",
        "faulty": "left out: fault in the sheets, queens not counted",
    },
    checks={
        "losses_before_workers": "queens lost before workers",
        "losses_after_workers": "queens lost after workers",
        "all_lost": "foundings that lost every queen",
        "without_workers": "foundings without workers",
        "largest_loss": "most queens lost between two looks",
    },
    not_known="number not known",
    start="queens in",
    first_worker="first worker",
    loss="a queen lost",
    all_lost="all lost",
    first_day_axis="day the first worker was seen",
    expected="what the model expected",
    happened="what happened",
    of_100_queens="of 100 queens",
    numbers={
        1: "one",
        2: "two",
        3: "three",
        4: "four",
        5: "five",
        6: "six",
        7: "seven",
        8: "eight",
        9: "nine",
        10: "ten",
        11: "eleven",
        12: "twelve",
    },
)
