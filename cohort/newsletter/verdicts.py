"""Verdicts in words: which way is better, how sure we are, and why not surer.

In comes what ``verdicts.csv`` says of a contrast; out come sentences of a catalogue. Never a word
that stands in no row of that table, and never a judgement of its own.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from cohort.figures.material import Kind, Material, kinds_to_name, verdict_of
from cohort.figures.names import of_100
from cohort.newsletter.speech import Voice, without_marks
from cohort.results.verdict_rows import DIFFER, HEADLINE, Spoken
from cohort.terms.questions import AVERAGE, EQUAL_CHANCE, EQUAL_PER_QUEEN
from cohort.verdict.rules import SURE, TELLING

ARITHMETIC: Final = ("same_queens_count", "colonies_per_queen")
"""Contrasts that favour one queen by arithmetic: a group can give one colony, k containers k.

They are no finding unless the sheets raise the odds by `TELLING`, and none either where they were
`SURE` before any sheet."""
WITH_A_SIDE: Final = ("clearly", "expected", "leans")
"""Words that name a way."""
TO_DO: Final = ("clearly", "expected")
"""Words that are sure enough to tell a keeper what to do."""


def key_of(found: Spoken | None) -> str:
    """End of the catalogue keys of a verdict: its word and, where it names a way, the way."""
    if found is None:
        return "none"
    return f"{found.word}_{found.side}" if found.word in WITH_A_SIDE else found.word


def is_finding(found: Spoken | None) -> bool:
    """Whether a sentence may be made of a verdict."""
    if found is None or not found.said:
        return False
    news = found.evidence >= TELLING and found.before < SURE
    return found.contrast not in ARITHMETIC or news


def word(voice: Voice, found: Spoken | None) -> str:
    """The verdict itself, as a sentence."""
    return voice.say(f"so_{key_of(found)}")


def cell(voice: Voice, found: Spoken | None) -> str:
    """The verdict itself, as a cell of a table."""
    return word(voice, found).rstrip(".")


def told(voice: Voice, found: Spoken | None, equal: float) -> str:
    """A verdict in sentences: the word, how sure, and why not surer."""
    return " ".join([word(voice, found), *how_sure(voice, found, equal, named=True)])


def how_sure(voice: Voice, found: Spoken | None, equal: float, *, named: bool = False) -> list[str]:
    """How sure we are of a verdict, and one reason why not surer.

    Parameters
    ----------
    voice : Voice
    found : Spoken or None
    equal : float
        Chance that both ways are practically equal, for the word ``same``.
    named : bool
        True where the sentence before names the better way, so that this one need not.
    """
    why = voice.say(why_key(found))
    if found is None or not found.said:
        return [voice.say("why_open", why=why)]
    if found.word == "same":
        return [voice.say("sure_same", chance=voice.chance(equal), points=_small(found))]
    known = named and found.word in WITH_A_SIDE
    out = [voice.say("sure_so" if known else "sure", chance=voice.chance(found.sure),
                     before=voice.chance(found.before),
                     way=voice.say(f"way_{found.likelier}"))]  # fmt: skip
    if found.word in ("leans", "open"):
        key = "why_probably" if found.word == "leans" else "why_open"
        out.append(voice.say(key, why=why))
    return out


def _small(found: Spoken) -> int:
    """Differences below this, in a hundred (queens or sets of queens), are practically none."""
    each_set = found.contrast == "same_queens_count"
    return of_100(EQUAL_PER_QUEEN * found.queens if each_set else EQUAL_CHANCE)


def why_key(found: Spoken | None) -> str:
    """Catalogue key of what kept a verdict from being stronger."""
    why = "day-short" if found is None else found.why
    return f"why_{why.replace('-', '_')}" if why != "none" else "why_unsure"


def of_number(material: Material, voice: Voice) -> str:
    """The verdict on the number of colonies of all kinds; blank where it is no finding."""
    found = verdict_of(material, AVERAGE, "same_queens_count")
    if found is None or not is_finding(found):
        return ""
    table = material.results.comparisons
    mine = table["quantity"].eq("same_queens_count") & table["genus"].eq(AVERAGE)
    row = table[mine & table["queens"].eq(found.queens) & table["day"].eq(found.day)]
    equal = float(row["chance_practically_equal"].iloc[0]) if len(row) else float("nan")
    sure = how_sure(voice, found, equal, named=True)
    headline = verdict_of(material, AVERAGE)
    if headline is not None and (headline.word, headline.why) == (found.word, found.why):
        sure = sure[:1]  # the lead has said why
    said = " ".join([word(voice, found), *sure])
    return voice.say("about_count", so=said[:1].lower() + said[1:])


def otherwise(material: Material, voice: Voice) -> str:
    """How sure we would be of the headline contrast under other assumptions; blank without one."""
    found = verdict_of(material, AVERAGE)
    table = material.results.sensitivity
    if found is None or not found.said or table.empty:
        return ""
    mine = table["contrast"].eq(HEADLINE) & table["queens"].eq(material.size)
    row = table[mine & table["genus"].eq(AVERAGE)].iloc[0]
    parts = []
    for key, columns in _OTHERWISE.items():
        shares = {name: found.of_side(float(row[column])) for name, column in columns.items()}
        if all(share == share for share in shares.values()):  # none is nan
            parts.append(voice.say(key, **{n: voice.chance(s) for n, s in shares.items()}))
    return " ".join(parts)


_OTHERWISE: Final = {
    "sure_prior": {"half": "half", "double": "double"},
    "sure_read": {"alike": "alike", "mated": "mated_first"},
    "sure_lot": {"lot": "lot_alone"},
}
"""Sentences and the columns of ``sensitivity.csv`` that they speak of."""


def by_lot_alone(material: Material, found: Spoken) -> float:
    """How sure by the foundings allotted by lot alone; nan where that was not asked."""
    table = material.results.sensitivity
    mine = table["contrast"].eq(found.contrast) & table["queens"].eq(found.queens)
    hit = table.loc[mine & table["genus"].eq(found.genus), "lot_alone"]
    return found.of_side(float(hit.iloc[0])) if len(hit) else float("nan")


def lines(material: Material, voice: Voice) -> tuple[str, ...]:
    """What may be said of the headline contrast, a line for all kinds and for each with a verdict.

    For the terminal: without marks.
    """
    kinds = {kind.genus: kind.named for kind in kinds_to_name(material)}
    if len(material.kinds) > 1:
        kinds = {AVERAGE: False, **kinds}
    out = []
    for genus, named in kinds.items():
        found = verdict_of(material, genus)
        if found is not None:
            name = without_marks(voice.cap(voice.kind(genus, named)))
            out.append(f"{name}, {found.queens} queens, day {found.day}: {found.plain}.")
    rest = [k for k in material.kinds if k.genus not in kinds]
    return (*out, without_marks(too_few(rest, voice))) if rest else tuple(out)


def too_few(kinds: Sequence[Kind], voice: Voice) -> str:
    """The line on kinds with too few foundings of their own for a verdict."""
    names = [voice.kind(kind.genus, kind.named) for kind in kinds]
    return voice.say("tally_none", n=len(names), kinds=voice.listing(names))


def whether_kinds_differ(material: Material, voice: Voice) -> str:
    """Whether the kinds differ, in one sentence; blank where that cannot be asked."""
    found = verdict_of(material, DIFFER)
    if found is None or not found.said:
        return ""
    if found.word == "clearly":
        return voice.say("differ_clearly", chance=voice.chance(found.chance))
    return voice.say("differ_open")


def kinds_differ(material: Material) -> bool:
    """True only where the verdicts say so."""
    found = verdict_of(material, DIFFER)
    return found is not None and found.word == "clearly"
