"""How sure the page is, and why not surer: lasting colonies, what the model misses, other seasons.

In comes a `Material` whose comparison settled; out come sentences and the table of lasting
colonies. Never a verdict, and never the chance of a group without the same queens kept singly.
"""

from __future__ import annotations

from cohort.figures.material import (
    Material,
    days_to_speak_of,
    kinds_to_name,
    row_of,
    row_to_show,
    rows_to_show,
)
from cohort.newsletter import flagged, verdicts, words
from cohort.newsletter.speech import Voice
from cohort.newsletter.tables import Table
from cohort.newsletter.wording import flagged_here, of_row
from cohort.terms.questions import ALIKE, AVERAGE, MATED_FIRST, NEW, NEXT_SEASON

APART, TOGETHER = "at_least_one_from_same_queens", "chance_per_founding"


def sentences(material: Material, voice: Voice) -> tuple[str, ...]:
    """Why the page is not surer, one text each."""
    flags = flagged.sentences(material, voice)
    missed = " ".join((voice.say("flags_lead"), *flags)) if flags else ""
    said = (
        verdicts.of_number(material, voice),
        words.half_followed(material, voice),
        could_change(material, voice),
        verdicts.otherwise(material, voice),
        missed,
        another_season(material, voice),
    )
    return tuple(text for text in said if text)


def could_change(material: Material, voice: Voice) -> str:
    """What could change the answer; blank where every kind was followed and has a verdict."""
    if len(material.kinds) == len(kinds_to_name(material)) and not words.half_followed(
        material, voice
    ):
        return ""
    return voice.say("could_change")


def another_season(material: Material, voice: Voice) -> str:
    """What another season may bring; blank where the results do not say."""
    size = material.size
    days = days_to_speak_of(material, TOGETHER)
    blanks: dict[str, int] = {}
    for way, name, quantity in (("multi", "together", TOGETHER), ("single", "apart", APART)):
        row = row_of(material, quantity, NEXT_SEASON, way, size, days[-1])
        if row is None:
            return ""
        blanks |= of_row(row, name)
    return voice.say("another_season", lots=voice.group(size), day=days[-1], **blanks)


def lasting(material: Material, voice: Voice) -> Table | None:
    """Lasting colonies by what is taken of unmated queens; None where no row is there."""
    size = material.size
    rows = []
    # all kinds together first, as in the sentences
    for genus, named in sorted(rows_to_show(material), key=lambda row: row[0] != AVERAGE):
        together = row_to_show(material, TOGETHER, genus, "multi", size)
        apart = row_to_show(material, APART, genus, "single", size)
        if genus == NEW or together is None or apart is None:
            continue
        day = int(together["day"])
        others = [
            row_of(material, "chance_lasting", genus, "multi", size, day, reading)
            for reading in (ALIKE, MATED_FIRST)
        ]
        told = [row for row in (together, *others, apart) if row is not None]
        if len(told) == 4:
            behind = f"{int(apart['foundings'])}+{int(together['foundings'])}"
            rows.append(
                (voice.cap(voice.kind(genus, named)), voice.write(day),
                 *(voice.say("t_range", **of_row(row)) for row in told), behind)
            )  # fmt: skip
    ways = [voice.say("part", word=voice.say("way_multi"), n=voice.say(f"t_read_{reading}"))
            for reading in ("seen", "alike", "mated")]  # fmt: skip
    heads = (*(voice.say(f"t_{head}") for head in ("kind", "day")), *ways,
             voice.say("way_single"), voice.say("t_foundings"))  # fmt: skip
    title = voice.say("lasting_title", lots=voice.group(size))
    if flagged_here(material, "colony", AVERAGE):
        title = f"{title}. {voice.say('flagged_here')}"
    return Table(heads, tuple(rows), title) if rows else None
