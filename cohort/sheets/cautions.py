"""The short safety lines that stand on the first tab of a workbook and on the night sheet.

What comes in: nothing. What goes out: `CAUTIONS`, pairs of a word and one plain line. They are
common practice, save where a law is named; local law and licensed advice stand above them all.
"""

from __future__ import annotations

CAUTIONS: tuple[tuple[str, str], ...] = (
    ("First", "Local law and licensed advice decide; these lines come after them."),
    (
        "Stings",
        "Fire, harvester, bull ants and others can cause an allergy of the whole body: trouble "
        "breathing, swelling away from the sting or faintness means calling the emergency number. "
        "This is not medical advice.",
    ),
    (
        "Collecting",
        "Ask the owner of the land, keep to the rules of reserves, leave protected mound builders "
        "alone, take few.",
    ),
    (
        "Foreign or invasive kinds",
        "Never release, move or post them; report with a photograph and the place to the "
        "plant-health authority. Freeze or boil their waste.",
    ),
    (
        "Killing",
        "Chill until nothing moves, then deep-freeze long; what is known of insects' suffering is "
        "little.",
    ),
    (
        "Lamps",
        "Keep mains lamps and leads out of rain and wet grass. Do not look into UV lamps, and use "
        "none that give UV-B or UV-C.",
    ),
    ("Privacy", "Write the region, never an address or the exact spot."),
)
