"""What stands under a picture, and what it says to a reader who cannot see it.

In comes the frame of a picture; out come its caption and a text that tells the finding in the
same numbers. Never looks at the ink.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pandas as pd

from cohort.figures import Drawing, picture
from cohort.figures.both_ways import FOLDED
from cohort.figures.how_sure import contrast_shares
from cohort.figures.material import Material, each
from cohort.figures.names import fate_text, of_100
from cohort.newsletter.speech import Voice, without_marks
from cohort.newsletter.wording import Row, Saying, fair_tail, flagged_here, short_tail
from cohort.terms.questions import AVERAGE, NEW

MOST_PARTS = 6


def captions(
    drawings: dict[str, Drawing], material: Material, voice: Voice, tail: str
) -> dict[str, tuple[str, str]]:
    """Caption and spoken text of every picture that was made.

    Parameters
    ----------
    drawings : dict of str to Drawing
        Pictures with their numbers.
    material : Material
        Results, history and study.
    voice : Voice
        Language.
    tail : str
        The clause on the same queens kept singly; blank when nothing is compared.
    """
    out = {}
    for name, drawing in drawings.items():
        if not drawing.reason:
            told = ALT[name](drawing.frame, voice, tail)
            out[name] = (_caption(name, drawing.frame, material, voice, tail), without_marks(told))
    return out


def short_captions(
    drawings: dict[str, Drawing], sayings: tuple[Saying, ...], material: Material, voice: Voice
) -> dict[str, str]:
    """Caption of under thirty words for every picture that was made.

    Parameters
    ----------
    drawings : dict of str to Drawing
        Pictures with their numbers.
    sayings : tuple of Saying
        What the results say; empty when nothing is compared.
    material : Material
        Results, history and study.
    voice : Voice
        Language.
    """
    row = _fair_row(sayings, material)
    tail = f" {short_tail(row, voice)}" if row is not None else ""
    size = voice.word(material.size)
    out = {}
    for name, drawing in drawings.items():
        if not drawing.reason:
            frame = drawing.frame
            modelled = "source" in frame and (frame["source"] == "model").any()
            shade = voice.say("short_shade_model" if modelled else "short_shade_counts")
            out[name] = voice.say(f"short_{name}", day=_day(frame), k=size, tail=tail, shade=shade)
    return out


def _fair_row(sayings: tuple[Saying, ...], material: Material) -> Row | None:
    """All kinds together, or the only kind, when anything is compared."""
    fair = [s for s in sayings if s.topic == "fair" and s.genus != NEW]
    if not fair:
        return None
    first, size = fair[0], material.size
    return Row(material, first.genus, first.named, size)


def tail_of(sayings: tuple[Saying, ...], material: Material, voice: Voice) -> str:
    """The same queens kept singly, for captions: all kinds together, or the only kind."""
    row = _fair_row(sayings, material)
    return "" if row is None else fair_tail(row, voice)


def _caption(name: str, frame: pd.DataFrame, material: Material, voice: Voice, tail: str) -> str:
    size = material.size
    told = f" {voice.say('cap_tail', tail=tail)}" if tail else ""
    modelled = "source" in frame and (frame["source"] == "model").any()
    shade = voice.say("shade_model" if modelled else "shade_counts")
    said = voice.say(
        f"cap_{name}", day=_day(frame), k=voice.word(size), tail=told, shade=shade
    )  # fmt: skip
    parts, of = [said.strip()], picture(name)
    if "panel" in frame:  # a kind without a row of its own is not spoken of
        frame = frame[frame["panel"] != FOLDED]
    if name == "both_ways" and (frame["genus"] == AVERAGE).any():
        parts.append(voice.say("cap_all_kinds"))
    if of.dated:
        parts.append(_own_days(frame, voice))
    if of.question and material.settled and (modelled or of.dated):
        genera = [str(genus) for genus in frame["genus"].unique()]
        if any(flagged_here(material, of.question, genus) for genus in genera):
            parts.append(voice.say("flagged_here"))
    return " ".join(part for part in parts if part)


def _day(frame: pd.DataFrame) -> int:
    """Day of a picture: that of all kinds together, or of the only kind."""
    if not {"day", "genus"} <= set(frame):
        return 0
    days = _pooled(frame)["day"].dropna()
    return int(days.iloc[0]) if len(days) else 0  # none where a picture shows no day


def _own_days(frame: pd.DataFrame, voice: Voice) -> str:
    """Kinds that are shown on an earlier day, as they were not followed as long."""
    days = frame.drop_duplicates("genus")
    early = days[days["day"] < _day(frame)]
    kinds = [
        voice.say("own_day", kind=voice.kind(str(r.genus), bool(r.named)), day=int(r.day))
        for r in each(early)
    ]
    return voice.say("cap_own_day", kinds=voice.listing(kinds)) if kinds else ""


def _pooled(frame: pd.DataFrame) -> pd.DataFrame:
    """Rows of all kinds together, or of the only kind."""
    pooled = frame[frame["genus"].isin(["all", AVERAGE])]
    return pooled if len(pooled) else frame[frame["genus"] == frame["genus"].iloc[-1]]


def _kind(frame: pd.DataFrame, voice: Voice) -> str:
    return voice.cap(voice.kind(str(frame["genus"].iloc[0]), bool(frame["named"].iloc[0])))


def _survival(frame: pd.DataFrame, voice: Voice, tail: str) -> str:
    mine = _pooled(frame)
    mine = mine[mine["source"] == "counted"]
    if set(mine["way"]) != {"single", "multi"}:
        return voice.say("alt_queen_survival")
    day = float(mine.groupby("way")["day"].max().min())
    at = mine[mine["day"] <= day].sort_values("day").groupby("way")["estimate"].last()
    told = voice.say("alt_curve", kind=_kind(mine, voice), day=int(day),
                     single=of_100(at["single"]), multi=of_100(at["multi"]))  # fmt: skip
    return f"{voice.say('alt_queen_survival')} {told}"


def _first_worker(frame: pd.DataFrame, voice: Voice, tail: str) -> str:
    mine = _pooled(frame)
    mine = mine[mine["source"] == "counted"]
    days = {}
    for way, part in mine.groupby("way"):
        over = part.loc[part["estimate"] >= 0.5, "day"]
        if len(over):
            days[str(way)] = int(over.min())
    if set(days) != {"single", "multi"}:
        return voice.say("alt_first_worker_short")
    return voice.say("alt_first_worker", kind=_kind(mine, voice), **days)


def _left(frame: pd.DataFrame, voice: Voice, tail: str) -> str:
    first = frame.iloc[0]
    return voice.say(
        "alt_queens_left", kind=_kind(frame, voice), day=int(first["day"]), one=int(first["one"]),
        several=int(first["several"]), none=int(first["none"]), n=int(first["groups"]),
        tail=f"; {tail}" if tail else "",
    )  # fmt: skip


def _few(frame: pd.DataFrame) -> pd.DataFrame:
    """The first kinds and the pooled one, so that a spoken text does not run on."""
    kinds = frame[~frame["genus"].isin([AVERAGE, NEW])].head(MOST_PARTS)
    return pd.concat([kinds, frame[frame["genus"] == AVERAGE]])


def _both_ways(frame: pd.DataFrame, voice: Voice, tail: str) -> str:
    mine = frame[frame["source"] == "model"]
    wide = mine.pivot_table(
        index=["genus", "named"], columns=["panel", "way"], values="estimate", sort=False
    )
    wide.columns = ["_".join(pair) for pair in wide.columns]
    shown = wide.reset_index()
    first = shown[shown["genus"] == AVERAGE]
    parts = [
        voice.say("alt_both_part", kind=voice.cap(voice.kind(row.genus, row.named)),
                  together=of_100(row.any_multi), apart=of_100(row.any_single),
                  many=voice.decimal(row.count_multi), each=voice.decimal(row.count_single))
        for row in each(pd.concat([first, _few(shown[shown["genus"] != AVERAGE])]))
    ]  # fmt: skip
    k = voice.word(int(frame["queens"].iloc[0]))
    return voice.say("alt_both_ways", k=k, parts=" ".join(parts))


def _catches(frame: pd.DataFrame, voice: Voice, tail: str) -> str:
    most = frame.groupby("method")["queens"].sum().idxmax()
    return voice.say(
        "alt_catches", queens=voice.say("queens", n=int(frame["queens"].sum())),
        first=frame["date"].min().date(), last=frame["date"].max().date(),
        method=voice.labels.methods.get(str(most), str(most)),
    )  # fmt: skip


def _season(frame: pd.DataFrame, voice: Voice, tail: str) -> str:
    return voice.say(
        "alt_season",
        foundings=voice.say("foundings", n=int(frame["founding"].nunique())),
        workers=int((frame["what"] == "first_worker").sum()),
        lost=int((frame["what"] == "all_lost").sum()),
    )


def _flow(frame: pd.DataFrame, voice: Voice, tail: str) -> str:
    parts = []
    for row in each(frame):
        name = voice.labels.steps[str(row.step)]
        if row.step == "left_out":
            why = voice.labels.left_out.get(str(row.why), str(row.why))
            name = voice.labels.steps["left_out"].format(why=why)
        counts = []
        if row.foundings >= 0:
            counts.append(voice.say("foundings", n=int(row.foundings)))
        if row.queens >= 0:
            sign = "" if row.exact else "≥ "
            counts.append(sign + voice.say("queens", n=int(row.queens)))
        parts.append(voice.say("part", word=name, n=", ".join(counts)))
    return voice.say("alt_flow", parts=voice.strung(parts))


def _hundred(frame: pd.DataFrame, voice: Voice, tail: str) -> str:
    parts = []
    for way, part in frame.groupby("way", sort=False):
        fates = [
            f"{row.queens} {fate_text(row.queens, str(row.fate), voice.labels)}"
            for row in each(part[part["queens"] > 0])
        ]
        word = voice.labels.single if way == "single" else voice.labels.multi
        parts.append(voice.say("alt_hundred_way", way=word, fates=", ".join(fates)))
    return voice.say("alt_hundred", parts=voice.strung(parts))


def _expected(frame: pd.DataFrame, voice: Voice, tail: str) -> str:
    inside = frame["observed"].between(frame["low"], frame["high"])
    return voice.say("alt_expected", inside=int(inside.sum()), all=len(frame))


def _first_days(frame: pd.DataFrame, voice: Voice, tail: str) -> str:
    days = frame["day"].dropna().to_numpy(float)
    return voice.say("alt_first_days", first=round(days.min()), last=round(days.max()),
                     middle=round(float(np.median(days))))  # fmt: skip


def _how_sure(frame: pd.DataFrame, voice: Voice, tail: str) -> str:
    shares = contrast_shares(frame)
    before = shares[shares["source"] == "prior"].set_index("genus")["multi"]
    parts = []
    for row in each(shares[shares["source"] == "posterior"].head(MOST_PARTS)):
        told = {
            "kind": voice.cap(voice.kind(row.genus, row.named)),
            "single": voice.chance(1 - row.multi),
            "multi": voice.chance(row.multi),
        }
        if row.genus in before:
            told["before"] = voice.chance(float(before[row.genus]))
        parts.append(voice.say("alt_how_before" if "before" in told else "alt_how_part", **told))
    return voice.say("alt_how_sure", k=_size(frame, voice), parts=" ".join(parts))


def _size(frame: pd.DataFrame, voice: Voice) -> str:
    return voice.word(int(frame["queens"].iloc[0]))


def _every_kind(frame: pd.DataFrame, voice: Voice, tail: str) -> str:
    """The first kinds that were followed long enough to be spoken of."""
    mine = frame[(frame["curve"] == "queen_survival") & (frame["own_day"] > 0)]
    mine = mine[mine["day"] <= mine["own_day"]]
    last = mine.groupby(["genus", "named", "way"], sort=False)["estimate"].last().unstack()
    parts = [
        voice.say("alt_every_part", kind=voice.cap(voice.kind(row.genus, row.named)),
                  single=of_100(row.single), multi=of_100(row.multi))
        for row in each(last.dropna().reset_index().head(MOST_PARTS))
    ]  # fmt: skip
    return voice.say("alt_every_kind", parts=" ".join(parts))


def _shrinkage(frame: pd.DataFrame, voice: Voice, tail: str) -> str:
    mine = frame[frame["spoken"] & frame["counted"].notna()].head(MOST_PARTS)
    parts = [
        voice.say(
            "alt_shrinkage_part", kind=voice.cap(voice.kind(row.genus, row.named)),
            way=voice.say(f"way_{row.way}"), counted=of_100(row.counted), model=of_100(row.model),
        )
        for row in each(mine)
    ]  # fmt: skip
    return voice.say("alt_shrinkage", day=_day(frame), parts=" ".join(parts))


def _keepers_blocks(frame: pd.DataFrame, voice: Voice, tail: str) -> str:
    return voice.say(
        "alt_keepers_blocks", keepers=int(frame["number"].nunique()), blocks=len(frame),
        single=int(frame["single"].sum()), multi=int(frame["multi"].sum()),
    )  # fmt: skip


ALT: dict[str, Callable[[pd.DataFrame, Voice, str], str]] = {
    "queen_survival": _survival,
    "first_worker": _first_worker,
    "queens_left": _left,
    "both_ways": _both_ways,
    "catches": _catches,
    "season": _season,
    "flow": _flow,
    "hundred": _hundred,
    "expected": _expected,
    "first_days": _first_days,
    "how_sure": _how_sure,
    "every_kind": _every_kind,
    "shrinkage": _shrinkage,
    "keepers_blocks": _keepers_blocks,
}
