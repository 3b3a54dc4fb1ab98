"""Words that stand inside pictures, as one value per language.

In comes nothing; out comes `Labels`, every field of which a language must fill. The sentences
round the pictures are the newsletter's. Never holds a number.
"""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from importlib import resources


@dataclass(frozen=True)
class Labels:
    """Axis words, names of ways and fates; `{n}` and the like are filled by the picture."""

    language: str
    locale: str
    single: str
    multi: str
    single_short: str
    multi_short: str
    together: str
    untried: str
    next_season: str
    unnamed: str
    others: str
    foundings: str
    queens: str
    founding_one: str
    queen_one: str
    days: str
    queens_alive: str
    with_workers: str
    counted: str
    model: str
    model_short: str
    none_left: str
    one_left: str
    several_left: str
    groups: str
    group_one: str
    as_counted: str
    counted_few: str
    pooled: str
    difference: str
    singly_better: str
    together_better: str
    kept_together: str
    kept_singly: str
    any_colony: str
    colonies_each: str
    counted_line: str
    behind: str
    no_verdict: str
    plan_one: str
    plan_two: str
    plan_sets: str
    plan_strongest: str
    plan_whole: str
    plan_workers: str
    plan_bold: str
    plan_colonies: str
    power_title: str
    power_width: str
    power_finds: str
    power_bars: str
    likely_range: str
    counts_key: str
    counts_key_of: str
    without_row: str
    without_row_one: str
    dot: str
    of_100: str
    square: str
    left_key: str
    last_look: str
    median: str
    with_of: str
    bar_day: str
    bar_week: str
    bar_month: str
    taken: str
    outside: str
    start_many: str
    own_days: str
    methods: dict[str, str]
    fates: dict[str, str]
    fates_one: dict[str, str]
    ends: dict[str, str]
    left_out: dict[str, str]
    steps: dict[str, str]
    checks: dict[str, str]
    start: str
    first_worker: str
    loss: str
    all_lost: str
    first_day_axis: str
    beforehand: str
    keeper_number: str
    block_order: str
    more_single: str
    as_many: str
    more_multi: str
    expected: str
    happened: str
    numbers: dict[int, str]


def read_labels(language: str) -> Labels:
    """Labels of a language, from the file that holds every word of it.

    The file lies with the page, whose sentences it holds too; it is opened by its place, so that
    pictures need not import the page.
    """
    text = (resources.files("cohort") / "newsletter" / "catalogue" / f"{language}.toml").read_text(
        encoding="utf-8"
    )
    whole = tomllib.loads(text)
    words = whole["labels"]
    words["numbers"] = {int(count): word for count, word in words["numbers"].items()}
    return Labels(language=language, locale=whole["locale"], **words)


ENGLISH = read_labels("en")
