"""What to do tonight, in lines for one screen.

Comes in: a `Tonight` and the language. Goes out: lines. Never: print.
"""

from __future__ import annotations

import shlex
from collections.abc import Sequence
from dataclasses import replace
from typing import Final

from cohort.desk.allot import Lot
from cohort.plan import words as plan_words
from cohort.plan.advice import way
from cohort.plan.phrases import advice_text, doing
from cohort.plan.phrases import speaks as plan_speaks
from cohort.plan.plan import Plan
from cohort.published import found, sources
from cohort.published.words import speaks as published_speaks
from cohort.sheets.cautions import line_in
from cohort.terms.genus_list import (
    EU_LISTED,
    INVASIVE_IN_NORTH_AMERICA,
    PARASITIC_SPECIES,
    PROTECTED_MOUNDS,
    SPREADING,
)
from cohort.terms.voice import ENGLISH, Voice, in_language, strung, voice
from cohort.tonight.night import Tonight
from cohort.verdict.rules import OWN

ROOM: Final = "cohort.tonight"
"""Where the sentences are, see `cohort.terms.voice`."""
MOUND_BUILDERS: Final = "Formica"
"""Genus of `PROTECTED_MOUNDS`."""
SHOWN: Final = 4
"""Divisions in the table."""


def speaks(language: str = ENGLISH) -> Voice:
    """The voice of this command."""
    return voice(ROOM, language)


def first_lines(what: Tonight, own: Voice) -> tuple[str, ...]:
    """Law and cautions, the title, and how to look at the queens."""
    kind = " ".join(part for part in (what.word, _species(what)) if part)
    out = [line_in(own, "plan"), *cautions(what, own)]
    out += ["", own.say("title", n=what.queens, kind=kind), "", own.say("head_look")]
    out += [f"- {own.say(key)}" for key in ("mites", "damaged")]
    hosts = PARASITIC_SPECIES.get(what.genus, ())
    if hosts and not what.species:
        out.append(f"- {own.say('hosts', genus=what.genus, species=', '.join(hosts[:2]))}")
    out.append(f"- {own.say('seen_mating')}")
    told = [own.say("aside", n=one.queens, reason=one.reason) for one in what.aside]
    return (*out, *(told or [own.say("say_aside")]))


def cautions(what: Tonight, own: Voice) -> tuple[str, ...]:
    """Cautions of the kind, and of some kinds of its genus where nobody knows yet which it is."""
    doubt = (what.asked.doubt,) if what.asked.doubt else ()
    return (*what.asked.first, *doubt, *(() if what.species else _some(what.genus, own)))


def _some(genus: str, own: Voice) -> list[str]:
    """Cautions that belong to some kinds of a genus, where nobody knows yet which it is."""
    spread = dict.fromkeys((*EU_LISTED, *SPREADING, *INVASIVE_IN_NORTH_AMERICA))
    invasive = [species for name, species in spread if name == genus]
    out = [own.say("some_invasive", genus=genus, species=invasive)] if invasive else []
    if genus == MOUND_BUILDERS:
        out.append(own.say("some_mounds", genus=genus, species=", ".join(PROTECTED_MOUNDS[:3])))
    return out


def _species(what: Tonight) -> str:
    return what.species if what.word == what.genus else ""


def advice_lines(what: Tonight, own: Voice) -> tuple[str, ...]:
    """What we would do, why, and how sure that is."""
    out = ["", own.say("head_divide", n=what.left)]
    if what.refused:
        return (*out, own.say("refused", why=what.refused))
    if what.why == "none":
        return (*out, own.say("why_none"))
    planned = plan_speaks(own.language)
    assert what.plan is not None  # there are queens to divide
    if what.why == "one":
        return (*out, advice_text(what.plan.advice, planned))
    out.append(own.say("take", do=doing(what.parts, planned)))
    if what.why in ("results", "results_alike"):
        out.append(advice_text(what.plan.advice, planned))
        if what.why == "results_alike":
            mean = dict(zip(what.plan.table["parts"], what.plan.table["colonies"], strict=True))
            divided, apart = (float(mean[parts]) for parts in (what.parts, (1,) * what.left))
            out.append(own.say("why_results_alike", divided=divided, apart=apart))
        out += planned.tell(what.plan.told)
        new = what.plan.kind.index < 0 and what.genus
        return (*out, *(_published_lines(what, own) if new else ()))
    why = f"{own.say(f'why_{what.why}')} {_sure(what, own)}"
    return (*out, *_published_lines(what, own), why)


def _published_lines(what: Tonight, own: Voice) -> tuple[str, ...]:
    speaker = published_speaks(own.language)
    first, *each = found(what.published, speaker)
    papers = sources(what.published, speaker)
    told = [
        speaker.say("papers", papers=in_language(strung(papers), own.language)),
        speaker.say("not_whole"),
    ]
    return (first, *(f"- {one}" for one in each), *([" ".join(told)] if papers else []))


def _sure(what: Tonight, own: Voice) -> str:
    known = what.published
    if not known.papers:
        return own.say("unsure")
    return own.say(
        "how_sure", n=len(known.papers), count=own.number(len(known.papers)), species=known.names
    )


def table_of(
    what: Tonight, own: Voice
) -> tuple[tuple[str, ...], list[tuple[str, ...]], str] | None:
    """Headings, rows and title of the few divisions worth a look; None where nothing is divided."""
    made = what.plan
    if made is None or what.refused or what.left < 2:
        return None
    wanted = [what.parts, made.advice.best, made.advice.against, (1,) * what.left]
    grouped = [parts for parts in made.table["parts"] if way(parts) == "groups"]
    shown = [parts for parts in dict.fromkeys((*wanted, *grouped)) if parts][:SHOWN]
    few = made.table[[parts in shown for parts in made.table["parts"]]].reset_index(drop=True)
    few["efficient"] = False  # its star is explained by `plan`, which shows them all
    planned = plan_speaks(own.language)
    rows = plan_words.rows(replace(made, table=few), planned)
    return plan_words.headings(made.advice.want, planned), rows, made.titled(planned)


def teach_lines(what: Tonight, own: Voice) -> tuple[str, ...]:
    """What this division would teach."""
    made = what.plan
    if made is None or what.refused or what.left < 2:
        return ()
    told = own.say("teaches_none")
    share = _narrowing(made, what)
    if share > 0 and way(what.parts) == "both":
        told = own.say(
            "teaches", size=own.number(made.compared_size), share=own.percent(share)
        )  # fmt: skip
    return ("", own.say("head_teach"), f"{told} {own.say('verdict', least=own.number(OWN))}")


def _narrowing(made: Plan, what: Tonight) -> float:
    of = dict(zip(made.table["parts"], made.table["narrowing"], strict=True))
    return float(of.get(what.parts, 0.0) or 0.0) if made.compared_size else 0.0


def lot_lines(what: Tonight, lots: Sequence[Lot] | None, seed: int, own: Voice) -> tuple[str, ...]:
    """Which queens go where, or how to ask for it."""
    head = ("", own.say("head_lot"))
    if not what.to_draw:
        return (*head, own.say("lot_nothing"))
    if lots is None:
        return (*head, own.say("lot_ask"))
    each = [
        own.say(
            "lot_one" if lot.queens == 1 else "lot_several",
            at=at, queens=own.listing([str(queen) for queen in lot.which]),
        )
        for at, lot in enumerate(lots, start=1)
    ]  # fmt: skip
    return (*head, own.say("lot_row"), *each, own.say("lot_seed", seed=str(seed)))


def allot_command(what: Tonight, study: str, keeper: str, seed: int) -> tuple[str, ...]:
    """The command that keeps the very same list, over several lines."""
    ask = what.ask
    named = " ".join(part for part in (what.word, _species(what)) if part)
    sizes, shares = (",".join(map(str, many)) for many in (ask.sizes, ask.shares))
    return (
        f"cohort allot {shlex.quote(study)} --queens {shlex.quote(f'{named}={what.left}')} \\",
        f"  --keeper {shlex.quote(keeper or 'K1')} --sizes {sizes} --shares {shares} "
        f"--block {ask.block} \\",
        f"  --seed {seed} --write",
    )


def labels_command(what: Tonight, study: str, keeper: str, *, kept: bool) -> str:
    """The command that prints their labels; once the list is kept, those of its foundings."""
    words = ["cohort print labels", shlex.quote(study) if study else ""]
    words += [
        f"--keeper {shlex.quote(keeper)}" if keeper else "",
        "--all" if kept else f"--numbers {len(what.parts)}",
    ]
    return " ".join(word for word in words if word)
