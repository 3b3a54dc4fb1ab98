"""Lists of the reporting guidelines, filled from the study as far as it knows.

In come `Content`, a `Material` and the folder of results; out come tables: ARRIVE 2.0 when every
compared founding was allotted by lot, else STROBE for cohorts, and the Bayesian reporting items
where the comparison settled. An item whose answer no sheet and no result holds stays blank. Never
guesses: what was agreed, who knew the groups and who paid is for those who made the study.

The numbers of the items were compared with published copies of ARRIVE 2.0 (author checklist; items
11 to 21 in PMC7610926, table 2), of the STROBE checklist for cohort studies, and of BARG (preamble
and steps 1 and 2). Items of steps 3 to 6 of BARG and the DOIs of ARRIVE and STROBE are from
memory; that of BARG was seen in PMC8526359.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

import pandas as pd

from cohort.figures.material import Material, kinds_in_order
from cohort.model.families import BetweenGenera, HalfNormal, Prior
from cohort.model.parameters import TABLE
from cohort.model.priors import Priors
from cohort.newsletter import counts, how_done
from cohort.newsletter.checklists import load
from cohort.newsletter.content import Content
from cohort.newsletter.speech import Voice, plain
from cohort.newsletter.tables import Table
from cohort.newsletter.words import by_lot
from cohort.nonparametric.followed import compared
from cohort.terms.questions import (
    AVERAGE,
    EQUAL_CHANCE,
    EQUAL_DAYS,
    EQUAL_PER_QUEEN,
    EQUAL_RATIO,
    NEW,
    QUESTIONS,
)

GUIDELINES: Final = {
    "arrive": ("ARRIVE 2.0", "10.1371/journal.pbio.3000410"),
    "strobe": ("STROBE, cohort studies", "10.1371/journal.pmed.0040296"),
    "barg": ("Bayesian Analysis Reporting Guidelines", "10.1038/s41562-021-01177-7"),
}
"""Name and DOI of each guideline."""

FILLED: Final[Mapping[str, Mapping[str, tuple[str, ...]]]] = {
    "arrive": {
        "1a": ("sizes",), "1b": ("unit",), "2a": ("sizes",), "3a": ("left_rules",),
        "3b": ("left_out",), "3c": ("behind",), "4a": ("allotment",), "4b": ("adjusted",),
        "6a": ("outcomes",), "6b": ("primary",), "7a": ("model", "programs"), "7b": ("checks",),
        "8a": ("kinds",), "8b": ("methods",), "9a": ("unit", "housing", "feeding"),
        "9b": ("looks", "dates"), "9c": ("place",), "10a": ("raw",), "10b": ("fair",),
        "11": ("summary",), "13": ("primary",), "15": ("housing", "feeding"), "16a": ("fight",),
        "16b": ("ended",), "17b": ("not_seen",), "18": ("untried",),
    },
    "strobe": {
        "1b": ("summary",), "3": ("primary",), "4": ("design", "allotment"),
        "5": ("place", "dates"), "6a": ("unit", "left_rules", "methods"), "7": ("outcomes",),
        "8": ("looks",), "9": ("adjusted",), "12a": ("model", "programs", "adjusted"),
        "12c": ("missing",), "12d": ("no_more",), "12e": ("refits",), "13a": ("sizes",),
        "13b": ("left_out",), "13c": ("flow",), "14a": ("kinds", "housing", "feeding"),
        "14c": ("followed",), "15": ("counted",), "16a": ("fair",), "16c": ("hundred",),
        "17": ("permutation",), "18": ("summary",), "19": ("not_seen",), "21": ("untried",),
    },
    "barg": {
        "PB": ("primary",), "1A": ("data",), "1B": ("model",), "1C": ("prior_table",),
        "1D": ("source",), "1E": ("prior_alone",), "2A": ("programs",), "2B": ("rhat",),
        "2C": ("ess",), "3A": ("checks",), "3B": ("posterior",), "3C": ("no_factors",),
        "4C": ("equal",), "4D": ("no_factors",), "4E": ("estimates",), "5B": ("refits",),
        "5D": ("no_factors",), "6A": ("programs",), "6B": ("reproduce",), "6D": ("files",),
    },
}  # fmt: skip
"""What fills an item; an item that is not here, or whose fill is blank, stays to be filled in."""
FILES: Final = ("comparisons.csv", "curves.csv", "foundings.csv", "second_opinion.csv",
                "draws.nc", "diagnosis.json", "run.json")  # fmt: skip
THOROUGH: Final = "thorough"
TOPICS: Final = {
    "queen_survival": "survival",
    "first_worker": "first_worker",
    "queens_after_workers": "left",
    "colony": "colony",
    "first_brood": "brood",
}
"""Question of the sheets -> topic of the page."""


@dataclass(frozen=True)
class Checklist:
    """A guideline with what the study tells.

    Parameters
    ----------
    key, name, doi : str
    table : Table
        Item number, what it asks for, what the study tells (or the sign of a blank).
    filled : int
        Items that are not blank.
    """

    key: str
    name: str
    doi: str
    table: Table
    filled: int


def design(material: Material) -> str:
    """``arrive`` when every compared founding was allotted by lot, else ``strobe``."""
    return "arrive" if by_lot(material, AVERAGE) else "strobe"


def checklists(content: Content, material: Material, folder: Path | None) -> list[Checklist]:
    """The lists that apply to a study, filled as far as is known.

    Parameters
    ----------
    content : Content
        What the page says.
    material : Material
        Results, history and study.
    folder : pathlib.Path or None
        Folder of results, where files beside the page are looked for.
    """
    texts = load(content.voice.catalogue.language)
    known = fills(content, material, folder)
    keys = [design(material)] + (["barg"] if content.compared else [])
    return [_checklist(key, texts, known) for key in keys]


def _checklist(
    key: str, texts: Mapping[str, Mapping[str, str]], known: Mapping[str, str]
) -> Checklist:
    fill, rows, filled = texts["fill"], [], 0
    for number, asks in texts[key].items():
        told = [known.get(name, "") for name in FILLED[key].get(number, ())]
        answer = " ".join(text for text in told if text)
        filled += bool(answer)
        rows.append((number, asks, answer or fill["blank"]))
    heads = (fill["head_item"], fill["head_what"], fill["head_told"])
    name, doi = GUIDELINES[key]
    return Checklist(key, name, doi, Table(heads, tuple(rows)), filled)


# ------------------------------------------------------------------ what is known


def fills(content: Content, material: Material, folder: Path | None) -> dict[str, str]:
    """Every answer that the sheets or the results hold, by name; blank when they do not."""
    fill = load(content.voice.catalogue.language)["fill"]
    out = {name: fill[name] for name in ("behind", "raw", "flow", "missing", "no_more", "outcomes",
                                         "design", "hundred")}  # fmt: skip
    out |= _of_content(content, material, fill)
    out |= _of_sheets(content.voice, material, fill)
    if content.compared:
        out |= _of_results(content.voice, material, fill, folder)
    else:
        out["hundred"] = ""
    return out


def _of_content(content: Content, material: Material, fill: Mapping[str, str]) -> dict[str, str]:
    unit, looks, allotment, model = content.how
    settings, past, voice = material.study.settings, material.history, content.voice
    fight = f"how_fight_{settings.fight_rule}"
    agreed = fight in voice.catalogue.sentences
    untried = [s.text for s in content.sayings if s.genus == NEW]
    summary = fill["summary"].format(headline=content.headline, summary=content.lead[0])
    return {
        "unit": unit,
        "looks": looks,
        "allotment": allotment if how_done.allotment_noted(compared(past.foundings)) else "",
        "model": model,
        "fight": voice.cap(voice.say(fight).lstrip("\u00a0; ")) + "." if agreed else "",
        "fair": " ".join(content.lead) if content.compared else "",
        "summary": summary if content.compared else "",
        "not_seen": " ".join(content.not_seen),
        "untried": " ".join(untried),
        "left_out": voice.strung(content.left_out),
        "counted": " ".join(content.counted),
        "permutation": counts.permutation(material, voice),
    }


def _of_sheets(voice: Voice, material: Material, fill: Mapping[str, str]) -> dict[str, str]:
    settings, past = material.study.settings, material.history
    inside = compared(past.foundings)
    kinds = [voice.kind(k.genus, k.named) for k in kinds_in_order(past.foundings)]
    reasons = [voice.labels.left_out.get(str(r), plain(str(r))) for r in settings.leave_out]
    adjust = [plain(str(name)) for name in settings.adjust.names]
    return {
        "sizes": _sizes(voice, inside, fill),
        "left_rules": _if(fill["left_rules"], why=", ".join(reasons)),
        "adjusted": _if(fill["adjusted"], what=", ".join(adjust)),
        "primary": _primary(voice, str(settings.primary_question), fill),
        "kinds": _if(fill["kinds"], kinds=voice.listing(kinds)),
        "methods": _methods(voice, material.study.catches, fill),
        "housing": _if(fill["housing"], what=_words(inside, "housing")),
        "feeding": _if(fill["feeding"], what=_words(inside, "feeding")),
        "place": _if(fill["place"], place=plain(settings.place)),
        "dates": _dates(voice, material, fill),
        "ended": " ".join(counts.ended(voice, inside)),
        "followed": _followed(voice, inside, fill),
    }


def _if(form: str, **values: str) -> str:
    """The sentence, or nothing when a value is blank."""
    return form.format(**values) if all(values.values()) else ""


def _words(foundings: pd.DataFrame, column: str) -> str:
    """Words of a column with how often each was noted; blank when none was."""
    noted = foundings[column].astype(str)
    found = noted[noted != ""].value_counts()
    return ", ".join(f"{plain(str(word))} ({count})" for word, count in found.items())


def _sizes(voice: Voice, inside: pd.DataFrame, fill: Mapping[str, str]) -> str:
    values = {}
    for way in ("single", "multi"):
        mine = inside[inside["arm"] == way]
        values[way] = voice.say("foundings", n=len(mine))
        values[f"{way}_queens"] = voice.say("queens", n=int(mine["size"].sum()))
    return fill["sizes"].format(
        all=voice.say("foundings", n=len(inside)),
        queens=voice.say("queens", n=int(inside["size"].sum())),
        **values,
    )


def _primary(voice: Voice, question: str, fill: Mapping[str, str]) -> str:
    """The question agreed: one of ours by its topic, else in the club's words."""
    known = question in QUESTIONS and question in TOPICS
    told = voice.say(f"topic_{TOPICS[question]}") if known else plain(question)
    return _if(fill["agreed"], question=told.rstrip("."))


def _methods(voice: Voice, catches: pd.DataFrame, fill: Mapping[str, str]) -> str:
    dated = catches[catches["queens"].notna()]
    sums = dated.groupby(dated["method"].astype(str))["queens"].sum()
    parts = [
        voice.say("part", word=voice.labels.methods.get(str(method), str(method)), n=int(count))
        for method, count in sums.items()
    ]
    return _if(fill["methods"], parts=voice.strung(parts))


def _dates(voice: Voice, material: Material, fill: Mapping[str, str]) -> str:
    first, last = material.history.foundings["started"].min(), material.study.checks["date"].max()
    if pd.isna(first) or pd.isna(last):
        return ""
    return fill["dates"].format(first=voice.write(first.date()), last=voice.write(last.date()))


def _followed(voice: Voice, inside: pd.DataFrame, fill: Mapping[str, str]) -> str:
    if inside.empty:
        return ""
    days = inside["end"].astype(float)
    return fill["followed"].format(
        middle=voice.write(round(days.median())), last=voice.write(round(days.max()))
    )


def _of_results(
    voice: Voice, material: Material, fill: Mapping[str, str], folder: Path | None
) -> dict[str, str]:
    run, found = material.results.run, material.results.diagnosis
    versions = {str(k): str(v) for k, v in dict(run.get("versions", {})).items()}
    program = versions.get("founding-cohort", "")
    programs = ", ".join(f"{name} {number}" for name, number in versions.items())
    checks = found.get("checks", ())
    inside = sum(not c["flagged"] for c in checks)
    there = [name for name in FILES if folder is not None and (folder / name).is_file()]
    refitted = folder is not None and (folder / THOROUGH).is_dir()
    seed = str(run.get("seed", ""))
    level = round(100 * float(material.results.comparisons["level"].iloc[0]))
    return {
        "data": fill["data"],
        "programs": _if(fill["programs"], programs=programs),
        "checks": fill["checks"].format(inside=inside, all=len(checks)) if checks else "",
        "refits": fill["refits" if refitted else "no_refits"] if folder is not None else "",
        "prior_table": fill["prior_table"] if priors(material, voice) else "",
        "source": _if(fill["source"], version=program),
        "prior_alone": fill["prior_alone"],
        "rhat": _number(voice, fill["rhat"], found, rhat=3, rhat_outcomes=3, divergences=0),
        "ess": _number(voice, fill["ess"], found, ess_bulk=0, ess_tail=0),
        "posterior": fill["posterior"].format(level=level),
        "no_factors": fill["no_factors"],
        "equal": _equal(voice, fill),
        "estimates": fill["estimates"],
        "reproduce": _if(fill["reproduce"], seed=seed),
        "files": _if(fill["files"], files=", ".join(there)),
    }


def _number(voice: Voice, form: str, found: Mapping[str, Any], **places: int) -> str:
    """Numbers of the diagnosis with so many places; blank when one is not there."""
    if any(name not in found for name in places):
        return ""
    return form.format(
        **{
            name.removeprefix("ess_"): voice.decimal(float(found[name]), digits)
            for name, digits in places.items()
        }
    )


def _equal(voice: Voice, fill: Mapping[str, str]) -> str:
    low, high = EQUAL_RATIO
    return fill["equal"].format(
        chance=voice.write(round(100 * EQUAL_CHANCE)),
        days=voice.decimal(EQUAL_DAYS, 0),
        queen=voice.decimal(EQUAL_PER_QUEEN, 2),
        low=voice.decimal(low, 2),
        high=voice.decimal(high, 2),
    )


# ------------------------------------------------------------------ priors


def priors(material: Material, voice: Voice) -> Table | None:
    """Priors of this version; None when another version (or none) made the results."""
    from cohort.results import versions

    mine, run = "founding-cohort", material.results.run
    if run.get("versions", {}).get(mine) != versions()[mine]:
        return None
    held = Priors.from_json(run["priors"]) if "priors" in run else Priors()
    texts = load(voice.catalogue.language)
    fill, names = texts["fill"], texts["prior"]
    rows = [
        (names[row.name], *_numbers(voice, held[row.name])) for row in TABLE.values() if row.prior
    ]
    heads = ("prior_head", "prior_mean", "prior_spread", "prior_between")
    return Table(tuple(fill[h] for h in heads), tuple(rows), fill["priors"])


def _numbers(voice: Voice, prior: Prior) -> tuple[str, str, str]:
    """Centre, spread and spread between genera as printed; a scale has no centre."""
    match prior:
        case BetweenGenera(mean, sd, between):
            return voice.decimal(mean, 2), voice.decimal(sd, 2), voice.decimal(between, 2)
        case HalfNormal(scale):
            return "–", voice.decimal(scale, 2), "–"
    return voice.decimal(prior.a, 3), voice.decimal(prior.b, 3), "–"
