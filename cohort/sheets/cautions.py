"""The safety lines, and the one line of each place that leads to them.

What comes in: nothing. What goes out: `CAUTIONS`, pairs of a word and a few plain sentences: the
whole text, on the first tab of a workbook and on the night sheet; and `LINES`, one line for each
command or sheet that has no room for all. They are common practice, save where a law or a paper is
named; local law and licensed advice stand above them all.

Killing. What was read: Bergh and others, "A contribution to standards for freezing as a pest
control method for museums", Collection Forum (abstract): larvae of seven museum pests below
-17.6 C for about 50 hours all died; to cool through, wool and furniture took 20 to 36 hours more.
Canadian Conservation Institute, Notes 3/3 (first page). Ants: half the workers of *Lasius niger*
and *L. flavus* die at -13 to -15 C (Berman & Zhigulskaya 2021, Contemporary Problems of Ecology,
abstract), half of four *Myrmica* of Northeast Asia at about -23 to -26 C (abstract), both in their
winter state; *Solenopsis invicta* within 4 hours at -10 C (second hand). So a home freezer can
fail with *Myrmica* in winter rest. No guidance for killing ants and none on their suffering was
found; a week is a margin of ours, and so is that some days of warmth undo the winter state.

Permits and proof of origin: no text was read but 7 CFR 301.81 (imported fire ants in the USA: one
queen is an infestation; moving them takes a certificate or permit). Solvents: common practice, no
source.
"""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType
from typing import Final

from cohort.terms.genera import LAW_FIRST

CAUTIONS: tuple[tuple[str, str], ...] = (
    ("First", "Local law and licensed advice decide; these lines come after them."),
    (
        "Stings",
        "Fire, harvester, bull ants and others can cause an allergy of the whole body: trouble "
        "breathing, swelling away from the sting or faintness means calling the emergency number. "
        "This is not medical advice.",
    ),
    (
        "Children",
        "Keep ants that sting, lamps and solvents out of their reach, and children away from open "
        "containers.",
    ),
    (
        "Collecting",
        "Ask the owner of the land, keep to the rules of reserves, leave protected mound builders "
        "alone, take few.",
    ),
    (
        "Bought or given queens",
        "Ask for species and place of origin, and keep the invoice. Bringing in, keeping or moving "
        "them may need a permit.",
    ),
    (
        "Release, mail",
        "Never release an ant where it was not caught. Never send ants by mail.",
    ),
    (
        "Foreign or invasive kinds",
        "Which these are differs from country to country: ask the plant-health authority. Do not "
        "move or release them; report them with a photograph and the place. Freeze or boil their "
        "waste.",
    ),
    (
        "Killing",
        "Chill until nothing moves, then a week in a freezer at -18 °C or colder; look again after "
        "thawing. Ants in winter rest bear more cold: keep them warm for some days first. This is "
        "a margin over what kills museum pests (about 50 hours, Bergh and others); for ants no "
        "tested guidance is known, and of insects' suffering little.",
    ),
    (
        "Barriers and solvents",
        "Paint escape barriers by an open window, away from flames, sparks and heaters; let them "
        "dry before ants go in.",
    ),
    (
        "Lamps",
        "Keep mains lamps and leads out of rain and wet grass. Do not look into UV lamps, and use "
        "none that give UV-B or UV-C.",
    ),
    ("Privacy", "Write the region, never an address or the exact spot."),
)

WHERE: Final = "'Before you go out' (first tab of a workbook, night sheet)"
"""Where the whole text stands."""

LINES: Mapping[str, str] = MappingProxyType(
    {
        "begin": f"{LAW_FIRST} Read 'Before you go out', on the first tab "
        "of each workbook, once with every keeper.",
        "bring": f"{LAW_FIRST} Queens that were bought or given: keep the proof of origin, and ask "
        "whether they need a permit.",
        "demo": f"{LAW_FIRST} What an invented club does allows nothing where you live.",
        "due": f"{LAW_FIRST} Giving one up? Do not release it where it was not caught; see "
        f"{WHERE}.",
        "plan": f"{LAW_FIRST} Ask what may be caught, kept and moved before you go by this.",
        "allot": f"{LAW_FIRST} All cautions: {WHERE}.",
        "checks": f"{LAW_FIRST} After a sting, trouble breathing, swelling away from it or "
        "faintness: call the emergency number. Never release ants where they were not caught, "
        "never send them by mail. Keep children away from open containers.",
    }
)
"""One line for each place that has no room for all."""
