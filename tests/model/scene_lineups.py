"""Lineups with everything a lineup can have, on one small study."""

from dataclasses import replace

import numpy as np
from by_rows import Rates
from scenes import history_of, lived

from cohort.exposure import packed, warm_tables
from cohort.model.lineup import line_up
from cohort.warm_clock import WarmClock, Warmth


def plain():
    """Twelve foundings of three genera, matings seen in half of them."""
    rates = Rates(level1=0.006, level2=0.004, tau=0.15, phi=0.9, sigma=0.5)
    days = np.arange(7, 161, 7)
    sets = lived(6, 1, rates, days, 1) + lived(6, 3, rates, days, 2)
    more = {f"F{i}": {"genus": "ABC"[i % 3], "mating_seen": i % 2} for i in range(12)}
    exposure = packed(history_of(sets, more=more))
    return line_up(exposure), exposure


def logged():
    """The same study, half of it with shelf logs."""
    exposure = plain()[1]
    low = np.random.default_rng(8).normal(18.0, 2.0, 170)
    clocks = {f"F{i}": WarmClock(low + i, low + i + 6.0, 24.0) for i in range(0, 12, 2)}
    mine = [clocks.get(name) for name in exposure.foundings["founding"]]
    records, nodes = warm_tables(exposure.records, exposure.nodes, mine)
    warmth = Warmth(clocks, 24.0, {f"F{i}": "no shelf is noted" for i in range(1, 12, 2)})
    exposure = replace(exposure, records=records, nodes=nodes, warmth=warmth)
    return line_up(exposure), exposure


def full():
    """The same study with keepers, flights, species, covariates and warmth; genera told apart."""
    lineup, exposure = plain()
    rng = np.random.default_rng(4)
    return replace(
        lineup,
        pooled_fight=not lineup.pooled_fight,
        keepers=("ann", "bo"),
        keeper=rng.integers(0, 2, 12),
        flights=("f1", "f2", "f3"),
        flight=rng.integers(0, 3, 12),
        kinds_within=("", "A x", "A y"),
        kind_within=rng.integers(0, 3, 12),
        covariates=("mites", "size"),
        x=rng.normal(size=(12, 2)),
        warm=rng.normal(size=12),
    ), exposure


SCENES = {"plain": plain, "logged": logged, "full": full}
