"""Checks of the model that are flagged, in words.

In come the flags of a diagnosis; out comes one sentence each. Never decides what is flagged, and
never names a keeper unless the study shows them.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from typing import Any

from babel.dates import format_date

from cohort.figures.material import Material
from cohort.newsletter.speech import Voice, plain

WITHOUT_WHO = (
    "losses_before_by_size",
    "losses_after_by_size",
    "looks_with_loss",
    "losses_long_gaps",
    "losses_after_first",
    "allotment_day",
    "allotment_mating",
    "broken_off",
    "ended_by_mishap",
)
"""Checks of the whole study, whose sentences name nobody."""


def sentences(material: Material, voice: Voice) -> tuple[str, ...]:
    """A sentence for each flag, the least likely first; none where nothing is flagged.

    Parameters
    ----------
    material : Material
        With ``flags`` in the diagnosis of its results.
    voice : Voice
        Language.
    """
    foundings = material.history.foundings
    named = dict(zip(foundings["genus"], foundings["named"], strict=True))
    show = bool(material.study.settings.show_keepers)
    said = (
        sentence(flag, voice, named, show_keepers=show)
        for flag in material.results.diagnosis.get("flags", ())
    )
    return tuple(dict.fromkeys(said))  # of keepers that are not named two may say the same


def sentence(
    flag: Mapping[str, Any], voice: Voice, named: Mapping[str, bool], *, show_keepers: bool
) -> str:
    """What one flag says.

    Parameters
    ----------
    flag : mapping
        As `cohort.model.flags.flags` gives it.
    voice : Voice
        Language.
    named : mapping of str to bool
        Whether a kind bears the name of a genus.
    show_keepers : bool
        Whether a keeper may be named.
    """
    check = str(flag["check"])
    fill: dict[str, Any] = {
        "n": round(float(flag["observed"])),
        "observed": voice.decimal(float(flag["observed"]), 0),
        "expected": voice.decimal(float(flag["expected"]), 0),
        "what": voice.labels.checks.get(check, check),
    }
    if check not in WITHOUT_WHO:
        fill["who"] = voice.cap(_who(flag, voice, named, show_keepers=show_keepers))
    return voice.say(f"flag_{flag['says']}", **fill)


def _who(
    flag: Mapping[str, Any], voice: Voice, named: Mapping[str, bool], *, show_keepers: bool
) -> str:
    by, name = str(flag["by"]), plain(str(flag["group"]))
    if by.startswith("keeper"):
        who = voice.say("flag_keeper", name=name) if show_keepers else voice.say("flag_one_keeper")
        way = by.removeprefix("keeper").strip("_")
        return voice.say("flag_keeper_way", who=who, way=voice.say(f"way_{way}")) if way else who
    if by == "way":
        return voice.say(f"flag_way_{name}")
    if by == "month":
        day = dt.date.fromisoformat(f"{name}-01")
        return str(format_date(day, "LLLL y", locale=voice.catalogue.locale))
    if by == "size":
        return voice.say("flag_of_size", k=int(name))
    if by == "season":
        return voice.say("flag_season", name=name)
    if by in ("genus", "species"):
        genus = plain(str(flag["genus"]))
        whole = name if by == "genus" or name.startswith(genus) else f"{genus} {name}"
        return voice.kind(whole, bool(named.get(flag["genus"], False)))
    return voice.say("flag_all")
