"""Which season a founding belongs to, and rules on sheets that hold several.

What comes in: the typed table of foundings and the settings. What goes out: a season for each
founding, as text, and findings. No row is altered.

A founding is of the season in which its queens flew; where no flight is noted, in which it started.
A colony that goes on into the next season stays a founding of its first.
"""

from __future__ import annotations

import re
from typing import Final

import numpy as np
import pandas as pd

from cohort.audit.find import at, tell
from cohort.audit.settings import Settings
from cohort.sheets.found import Found

_BETWEEN: Final = re.compile(r"\s*[,;+&]\s*")
_YEAR: Final = re.compile(r"\d{4}")
_TWO_YEARS: Final = re.compile(r"(\d{4})([/-])(\d{4}|\d{2})")
_JULY: Final = 7
"""A season written 2025/26 runs over New Year, from July to June: flights of the south."""


def seasons(setting: str, foundings: pd.DataFrame) -> np.ndarray:
    """Season of each founding.

    Parameters
    ----------
    setting : str
        Setting ``season`` of the study: a year (``2026``), two years of which the second begins
        inside the season (``2025/26``), several of either with commas between, or any words.
    foundings : DataFrame
        With the columns flight_date and started.

    Returns
    -------
    ndarray of str, shape (len(foundings),)
        The year of the flight, else of the start, where the setting names years or nothing; written
        as the setting writes it. Any words stand for all foundings.
    """
    names = named_seasons(setting)
    flown = foundings["flight_date"].fillna(foundings["started"])
    year = flown.dt.year
    signs = {found[2] for name in names if (found := _over_new_year(name))}
    if signs and all(map(_over_new_year, names)):
        first = (year - (flown.dt.month < _JULY)).astype("Int64")
        short = all(len(name) == len("2025/26") for name in names)
        sign = signs.pop()
        made = ["" if pd.isna(one) else _written(int(one), sign, short=short) for one in first]
    elif all(map(_YEAR.fullmatch, names)):
        made = ["" if pd.isna(one) else str(int(one)) for one in year]
    else:
        made = [setting.strip()] * len(foundings)
    return np.array(made, dtype=object)


def named_seasons(setting: str) -> list[str]:
    """The seasons that the setting names, in its order; none where it is blank."""
    return [name for name in _BETWEEN.split(setting.strip()) if name]


def _over_new_year(name: str) -> re.Match[str] | None:
    """A season of two years in a row, such as ``2025/26``."""
    found = _TWO_YEARS.fullmatch(name)
    if found is None:
        return None
    second = str(int(found[1]) + 1)
    return found if found[3] in (second, second[2:]) else None


def _written(first: int, sign: str, *, short: bool) -> str:
    second = str(first + 1)
    return f"{first}{sign}{second[2:] if short else second}"


def season_named(table: pd.DataFrame, settings: Settings) -> Found:
    """A founding of a season that the study does not name."""
    said = settings.season.strip()
    mine = seasons(said, table)
    every = sorted({*mine} - {""})
    named = [said, *named_seasons(said)] if said else every[:1]  # one season needs no name
    other = ~np.isin(mine, ["", *named])
    key = "season_other" if said else "season_unsaid"
    return at(
        table,
        other,
        level="note",
        rule="season-other",
        column="started",
        what=[tell(key, season=name, said=named[0]) for name in mine[other]],
        remedy=[tell("season_other_do", season=name, all=", ".join(every)) for name in mine[other]],
    )


def block_of_one_season(table: pd.DataFrame, settings: Settings) -> Found:
    """A block that holds foundings of two seasons: no draw was over both."""
    mine = pd.Series(seasons(settings.season, table), index=table.index)
    block = table["block"]
    some = (block != "").to_numpy() & (mine != "").to_numpy()
    first = mine[some].groupby(block[some]).transform("first")
    wrong = np.flatnonzero(some)[(first != mine[some]).to_numpy()]
    here, there = mine.to_numpy(), first.reindex(table.index).to_numpy()
    return at(
        table,
        wrong,
        level="warning",
        rule="block-of-two-seasons",
        column="block",
        what=[
            tell("block_seasons", block=block.iloc[p], here=here[p], there=there[p]) for p in wrong
        ],
        remedy=tell("block_seasons_do"),
    )
