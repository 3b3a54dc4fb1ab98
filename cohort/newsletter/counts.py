"""What was counted, in sentences: no model, no chances.

In comes a `Material`; out come sentences on the catch, the fates of the queens, first workers,
what was not seen, how it was done and what was left out. This is all a page has when the
comparison has not settled. Never prints a note, an exact place or, unless the study says so, a
keeper's name.
"""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
import pandas as pd

from cohort.figures.hundred import hundred_frame
from cohort.figures.material import Kind, Material, NotDrawn, each, kinds_in_order
from cohort.figures.names import fate_text, of_100
from cohort.figures.season import QUIET_ENDS
from cohort.newsletter.speech import ITALIC, UPRIGHT, Voice, plain
from cohort.nonparametric.followed import ENOUGH, WAYS, compared, fair_day
from cohort.nonparametric.permutation import LEAST

MOST_LEFT_OUT = 40


def study_line(material: Material, voice: Voice) -> str:
    """How large the study is."""
    foundings = material.history.foundings
    own = material.study.foundings
    queens = int(own.loc[own["from_"].astype(str) == "", "queens"].sum())
    keepers = {plain(k) for k in foundings["keeper"] if str(k)}
    told = voice.say("keepers", n=len(keepers))
    if material.study.settings.show_keepers:
        told = voice.listing(sorted(keepers))
    return voice.say(
        "study_line" if keepers else "study_line_nobody",
        foundings=voice.say("foundings", n=len(foundings)),
        keepers=told,
        queens=voice.say("queens", n=queens),
        kinds=voice.say("kinds", n=foundings["genus"].nunique()),
    )


def permutation(material: Material, voice: Voice) -> str:
    """The check without a model, or why there is none; blank where none was asked for."""
    found = material.results.diagnosis.get("permutation")
    if not found:
        return ""
    if not found["done"]:
        return voice.say("permutation_few", least=LEAST, **{
            name: int(found[name]) for name in ("day", "single", "multi")
        })  # fmt: skip
    return voice.say(
        "permutation",
        day=int(found["day"]),
        any=of_100(float(found["any"])),
        any_lots=of_100(float(found["any_expected"])),
        any_chance=voice.chance(float(found["any_chance"])),
        count=float(found["count"]),
        count_lots=float(found["count_expected"]),
        count_chance=voice.chance(float(found["count_chance"])),
        foundings=voice.say("foundings", n=int(found["foundings"])),
    )


def why_counts_only(material: Material, voice: Voice) -> str:
    """Why no chances are printed."""
    inside = compared(material.history.foundings)
    ways = set(inside["arm"])
    if inside.empty:
        return voice.say("no_foundings")
    if len(ways) == 1:
        return voice.say("one_way", way=_way(voice, ways.pop()))
    barren = not np.isfinite(inside["first_by"].astype(float)).any()
    there = {way: int((inside["arm"] == way).sum()) for way in WAYS}
    if too_few(material):
        why = voice.say("too_few", least=ENOUGH, **there)
    elif material.settled:
        why = voice.say("too_short", least=ENOUGH)
    else:
        why = voice.say("unsettled")
    return f"{voice.say('no_workers')} {why}" if barren else why


def too_few(material: Material) -> bool:
    """True when a way of founding has too few foundings, whatever the day."""
    ways = compared(material.history.foundings)["arm"]
    return any(int((ways == way).sum()) < ENOUGH for way in WAYS)


def counted(material: Material, voice: Voice) -> list[str]:
    """One paragraph per way of founding, and the catch."""
    out = []
    catches = material.study.catches
    dated = catches[catches["date"].notna() & catches["queens"].notna()]
    if len(dated):
        out.append(
            voice.say(
                "catch_line",
                n=int(dated["date"].nunique()),
                queens=voice.say("queens", n=int(dated["queens"].sum())),
                days=voice.say("days", n=int(dated["date"].nunique())),
                first=dated["date"].min().date(),
                last=dated["date"].max().date(),
            )
        )
    try:
        fates = hundred_frame(material)
    except NotDrawn:
        return out
    inside = compared(material.history.foundings)
    for way, part in fates.groupby("way", sort=False):
        mine = inside[inside["arm"] == way]
        out.append(_of_way(voice, str(way), part, mine))
    return out + _killed(material, voice)


def _killed(material: Material, voice: Voice) -> list[str]:
    """Queens seen killed and queens lost unseen, where a killing was noted in a group."""
    curves = material.results.curves
    last = curves[curves["genus"] == "all"].groupby(["curve", "arm"]).tail(1)
    row = {(str(r.curve), str(r.arm)): r for r in each(last)}
    killed = row.get(("queens_killed", "multi"))
    other = row.get(("queens_lost_otherwise", "multi"))
    if killed is None or other is None or not float(killed.estimate) > 0:
        return []
    if pd.isna(killed.low):  # one group is all there is, and has no likely range
        return []
    alone = [row.get((name, "single")) for name in ("queens_killed", "queens_lost_otherwise")]
    if None in alone:
        return []
    hundred = {
        "killed": killed.estimate,
        "low": killed.low,
        "high": killed.high,
        "other": other.estimate,
        "single": sum(float(r.estimate) for r in alone if r is not None),
    }
    said = {name: round(100 * float(value)) for name, value in hundred.items()}
    return [voice.say("counted_killed", day=round(float(killed.day)), **said)]


def _of_way(voice: Voice, way: str, fates: pd.DataFrame, mine: pd.DataFrame) -> str:
    count = voice.say("foundings", n=len(mine))
    head = voice.say(
        "counted_way",
        way=voice.cap(_way(voice, way)),
        foundings=count,
        queens=voice.say("queens", n=int(fates["queens"].sum())),
    )
    met = fates[fates["queens"] > 0]
    parts = [
        f"{voice.write(int(row.queens))} {fate_text(row.queens, str(row.fate), voice.labels)}"
        for row in each(met)
    ]
    return " ".join((head, voice.say("counted_fates", parts=voice.strung(parts)),
                     _workers(voice, mine, count)))  # fmt: skip


def _workers(voice: Voice, mine: pd.DataFrame, count: str) -> str:
    days = mine.loc[np.isfinite(mine["first_by"].astype(float)), "first_by"].astype(float)
    if days.empty:
        return voice.say("counted_workers_none", n=count)
    if len(days) == 1:
        return voice.say("counted_workers_one", n=count, first=round(days.iloc[0]))
    return voice.say(
        "counted_workers",
        seen=len(days),
        n=count,
        first=round(float(days.min())),
        last=round(float(days.max())),
        middle=round(float(days.median())),
    )


def _way(voice: Voice, way: str) -> str:
    return voice.labels.single if way == "single" else voice.labels.multi


# ------------------------------------------------------------------ not seen


def not_seen(material: Material, voice: Voice) -> list[str]:
    """What this record cannot tell."""
    foundings = material.history.foundings
    inside = compared(foundings)
    out = []
    if len(inside):
        last = fair_day(foundings, material.history.horizon) or int(inside["end"].max())
        out.append(voice.say("unseen_after", day=last))
    for way, key in (("multi", "unseen_multi"), ("single", "unseen_single")):
        lacking = [
            k for k in kinds_in_order(foundings)
            if not ((inside["genus"] == k.genus) & (inside["arm"] == way)).any()
        ]  # fmt: skip
        if lacking:
            out.append(voice.say(key, kinds=_kinds(voice, lacking)))
    seen = inside[np.isfinite(inside["first_by"].astype(float))]
    barren = [k for k in kinds_in_order(foundings) if k.genus not in set(seen["genus"])]
    if barren:
        out.append(voice.say("unseen_workers", kinds=_kinds(voice, barren)))
    out += ended(voice, inside)
    marked = material.study.foundings["marked"].astype(str).isin(["yes"])
    if (inside["size"] > 1).any() and not bool(marked.any()):
        out.append(voice.say("unseen_marked"))
    return [*out, voice.say("unseen_fight"), voice.say("unseen_mated")]


def _kinds(voice: Voice, kinds: list[Kind]) -> str:
    return voice.listing([voice.kind(k.genus, k.named) for k in kinds])


def ended(voice: Voice, inside: pd.DataFrame) -> list[str]:
    """How many foundings ended before their fate was known, and how; empty when none did."""
    early = inside.loc[~inside["end_kind"].isin(QUIET_ENDS), "end_kind"].value_counts()
    if early.empty:
        return []
    parts = [_part(voice, voice.labels.ends[str(end)], int(n)) for end, n in early.items()]
    count = int(early.sum())
    return [voice.say("unseen_ended", n=count, count=voice.cap(voice.word(count)),
                      parts=voice.listing(parts))]  # fmt: skip


def _part(voice: Voice, word: str, count: int) -> str:
    """'accident: 2', and of one alone 'accident'."""
    return word if count == 1 else voice.say("part", word=word, n=count)


def credits(material: Material, voice: Voice, with_photo: bool) -> str:
    """Who kept the foundings, as far as the study allows, and who took the photograph."""
    settings = material.study.settings
    keepers = sorted({plain(k) for k in material.history.foundings["keeper"] if str(k)})
    told = voice.say("keepers", n=len(keepers))
    if settings.show_keepers:
        told = voice.listing(keepers)
    parts = [voice.say("credit_keepers", keepers=told)] if keepers else []
    if with_photo and settings.photo_credit:
        parts.append(voice.say("photo_credit", credit=plain(settings.photo_credit)))
    return " ".join(parts)


def notes(material: Material, voice: Voice, faults: Iterable[str]) -> list[str]:
    """What did not enter the comparison, why it has not settled; names got late; photographs.

    Reasons and notes of the comparison are English only: they are the words of the diagnosis.
    """
    found = material.results.diagnosis
    out = [] if material.settled else [plain(reason) for reason in found.get("reasons", ())]
    out += [plain(note) for note in found.get("notes", ())]
    kinds = material.study.kinds
    later = kinds[kinds["first_called"].notna() & (kinds["genus"] != "")]
    later = later.astype({"kind": str, "genus": str})
    days = pd.to_datetime(later["first_called"]).dt.date
    said = zip(later["kind"], later["genus"], days, strict=True)
    named = [voice.say("named_later", kind=plain(kind), genus=voice.kind(genus, True), day=day)
             for kind, genus, day in said]  # fmt: skip
    return out + named + [voice.say("photo_unread", file=name) for name in faults]


def left_some(material: Material, voice: Voice) -> str:
    """How many foundings stand outside the comparison, and why; blank when none does."""
    foundings = material.history.foundings
    out = foundings[~foundings["compared"].astype(bool)]
    reasons = out["left_out"].astype(str).value_counts().to_dict()
    reasons |= {"faulty": len(material.study.faulty)} if len(material.study.faulty) else {}
    if not reasons:
        return ""
    parts = [_part(voice, voice.labels.left_out.get(str(why), plain(str(why))), int(n))
             for why, n in reasons.items()]  # fmt: skip
    count = sum(reasons.values())
    return voice.say("left_some", n=count, count=voice.cap(voice.word(count)),
                     parts=voice.listing(parts))  # fmt: skip


def _fault(voice: Voice, founding: str, why: str) -> str:
    told = voice.say("left_fault", why=why)
    return voice.cap(voice.say("headed", head=founding, text=told) if founding else told)


def left_out(material: Material, voice: Voice, *, own: bool = False) -> list[str]:
    """Foundings outside the comparison and the reason, one line each.

    Each by its name where keepers are shown or it is their own page: a name such as K1-01 tells
    whose it is. Elsewhere by its kind and the way of founding.
    """
    foundings = material.history.foundings
    shown = own or bool(material.study.settings.show_keepers)
    out = [
        voice.say(
            "left_line" if shown else "left_lines",
            founding=plain(row.founding),
            way=_way(voice, str(row.arm)),
            kind=voice.kind(str(row.genus), bool(row.named)),
            why=voice.labels.left_out.get(str(row.left_out), plain(row.left_out)),
        )
        for row in each(foundings[~foundings["compared"].astype(bool)])
    ]
    out += [
        _fault(voice, plain(row.founding) if shown else "", plain(row.why))
        for row in each(material.study.faulty)
    ]
    if len(out) > MOST_LEFT_OUT:
        rest = len(out) - MOST_LEFT_OUT
        out = [*out[:MOST_LEFT_OUT], voice.say("left_more", n=rest)]
    return out or [voice.say("left_none")]


def cautions(material: Material, voice: Voice) -> list[str]:
    """Cautions for everybody, then those of the kinds in the study; law first."""
    from cohort.terms import genera

    out = [voice.say(key) for key in (
        "law_first", "caution_release", "caution_collect", "caution_kill", "caution_children"
    )]  # fmt: skip
    if (material.study.catches["method"] == "light").any():
        out.append(voice.say("caution_lamp"))
    pairs = material.study.foundings[["genus", "species"]].drop_duplicates()
    for row in each(pairs):
        if voice.catalogue.language == "en":
            told = genera.cautions(str(row.genus), str(row.species))
        else:
            told = tuple(_translated(voice, str(row.genus), str(row.species)))
        named = f"{ITALIC}{row.genus}{UPRIGHT}"
        told = tuple(text.replace(str(row.genus), named) for text in told)
        out += [text for text in told if text not in out]
    return out


def _translated(voice: Voice, genus: str, species: str) -> list[str]:
    """The same cautions from the catalogue, for languages the terms do not speak."""
    from cohort.terms import genera

    blanks = genera.caution_blanks(genus, species)
    return [
        voice.say(f"caution_{key}", **blanks, law=voice.say("law_short"))
        for key in genera.caution_keys(genus, species)
    ]
