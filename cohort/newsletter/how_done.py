"""How the record was made and compared, in sentences.

In comes a `Material`; out come sentences on what a founding is, how often was looked and how long
was followed, what decided who founds with whom, and what the comparison does. Never a chance.
"""

from __future__ import annotations

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from cohort.figures.material import Material
from cohort.history.winters import usual_winter
from cohort.newsletter.speech import Voice
from cohort.nonparametric.followed import compared


def how(material: Material, voice: Voice) -> list[str]:
    """How the record was made and compared, in four sentences."""
    settings = material.study.settings
    inside = compared(material.history.foundings)
    lots = int((inside["assigned"] == "random").sum())
    key = "how_lot_all" if lots == len(inside) else "how_lot_some" if lots else "how_lot_none"
    if not allotment_noted(inside):
        key = "how_lot_unsaid"
    fight = f"how_fight_{settings.fight_rule}"
    known = fight in voice.catalogue.sentences
    return [
        voice.say("how_flight" if settings.clock == "flight" else "how_unit"),
        _looks(material, voice),
        voice.say(key, n=lots, all=len(inside), fight=voice.say(fight) if known else ""),
        voice.say("how_model" if material.settled else "how_counts"),
    ]  # fmt: skip


def _looks(material: Material, voice: Voice) -> str:
    """How often was looked and how long was followed, as the sheets say and not as was agreed."""
    inside = compared(material.history.foundings)
    gaps = gaps_between_looks(material)
    if not len(gaps):
        return voice.say("how_not_looked")
    half = int(np.sort(gaps)[(len(gaps) - 1) // 2])
    kept = np.sort(inside.loc[~np.isfinite(inside["lost_by"].astype(float)), "end"].to_numpy(float))
    followed = ""
    if len(kept):
        middle = int(kept[len(kept) // 2])
        followed = _followed(material, voice, middle, int(kept[-1]))
    return voice.say("how_looks", n=len(gaps), gap=voice.say("days", n=half), followed=followed)


def _followed(material: Material, voice: Voice, middle: int, last: int) -> str:
    """How long foundings were followed, and whether through winter."""
    names = [str(name) for name in compared(material.history.foundings)["founding"]]
    winter = usual_winter(material.history, names)
    if winter is None:
        return voice.say("how_followed", middle=middle, last=last)
    begins, days = (int(day) for day in winter)
    told = voice.say(
        "how_followed_winter", middle=middle, last=last, begins=begins, ends=begins + days
    )
    again = material.history.foundings["end_kind"].eq("winter").any()
    return told + (voice.say("how_second_winter") if again else "")


def gaps_between_looks(material: Material) -> NDArray[np.int64]:
    """Days from each look of a compared founding back to the look before it, or to its start.

    Looks count from the day a founding was first followed to the day it was followed last; two
    rows of a day are one look.
    """
    inside = compared(material.history.foundings).set_index("founding")
    checks = material.study.checks
    zero = inside["started"] - pd.to_timedelta(inside["closed"].astype(float), unit="D")
    seen = checks[checks["founding"].isin(inside.index)]
    day = (seen["date"] - seen["founding"].map(zero)).dt.days
    start, end = (seen["founding"].map(inside[name].astype(float)) for name in ("entry", "end"))
    looks = pd.DataFrame({"founding": seen["founding"], "day": day})[(day > start) & (day <= end)]
    starts = pd.DataFrame({"founding": inside.index, "day": np.floor(inside["entry"].to_numpy())})
    every = pd.concat([starts, looks]).drop_duplicates().sort_values(["founding", "day"])
    gaps = every.groupby("founding")["day"].diff().dropna()
    return gaps.to_numpy(np.int64)


def allotment_noted(inside: pd.DataFrame) -> bool:
    """True when the sheets say of any compared founding how its queens came together."""
    return bool((inside["assigned"].astype(str) != "").any())
