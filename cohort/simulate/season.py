"""A whole season of a club, with a known truth, as the sheets its keepers would send.

In: a :class:`Design` (how many, allotted how, looked at when) and a
:class:`~cohort.simulate.truth.Truth`.
Out: a :class:`SimulatedStudy`: sheets by file name, the truth, and what truly happened.
Never: hands the reader anything a keeper could not have written down; ``truth.json`` lies
beside the sheets for the analyst and is no sheet.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import partial
from pathlib import Path

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from cohort.base.errors import StudyError
from cohort.simulate.design import Design
from cohort.simulate.events import Floats, Ints
from cohort.simulate.fates import Fates, live
from cohort.simulate.looks import Looks, check_sheet, looks_of
from cohort.simulate.truth import GenusTruth, Truth
from cohort.simulate.warm import Weather

__all__ = [
    "Design",
    "SimulatedStudy",
    "laid_out",
    "simple_study",
    "simulate_study",
    "written_down",
]


@dataclass(frozen=True)
class SimulatedStudy:
    """Sheets of a simulated season, with the truth behind them.

    Parameters
    ----------
    sheets : dict of str to DataFrame or str
        File name to table (written as CSV) or text.
    truth : Truth
        The parameters.
    fates : pandas.DataFrame
        What truly happened: founding, genus, queens, first_worker (day, inf if none),
        lost (day of the loss of the last queen, inf if none), alive (queens at the horizon).
    """

    sheets: dict[str, pd.DataFrame | str]
    truth: Truth
    fates: pd.DataFrame

    def write(self, folder: Path | str) -> Path:
        """Write the sheets and ``truth.json`` into `folder`, which must be new or empty.

        Raises
        ------
        StudyError
            If the folder holds anything already.
        """
        target = Path(folder)
        if target.exists() and (not target.is_dir() or any(target.iterdir())):
            raise StudyError(
                f"{target}: there is something here already. Name a new folder: a simulated "
                "study never overwrites anything."
            )
        target.mkdir(parents=True, exist_ok=True)
        for name, sheet in self.sheets.items():
            text = sheet if isinstance(sheet, str) else sheet.to_csv(index=False)
            (target / name).write_text(text, encoding="utf-8", newline="\n")
        (target / "truth.json").write_text(self.truth.as_json(), encoding="utf-8", newline="\n")
        return target


def laid_out(design: Design, genera: Sequence[str], rng: np.random.Generator) -> pd.DataFrame:
    """Return one row per founding: genus, keeper, block, size, flight and start (in days)."""
    per_block = len(design.sizes)
    blocks = -(-design.foundings // per_block)
    order = rng.permuted(np.tile(np.asarray(design.sizes), (blocks, 1)), axis=1)
    flight_days = np.sort(rng.integers(0, design.flight_span + 1, design.flights))
    flight = rng.integers(0, design.flights, blocks)
    which = np.repeat(np.arange(blocks), per_block)[: design.foundings]
    plan = pd.DataFrame(
        {
            "genus": np.asarray(genera, dtype=object)[which % len(genera)],
            "keeper": (which // len(genera)) % design.keepers,
            "block": which,
            "size": order.ravel()[: design.foundings],
            "flight": flight[which],
            "flight_day": flight_days[flight[which]],
        }
    )
    plan["start"] = plan["flight_day"] + rng.integers(0, 2, len(plan))
    plan["entry"] = 0
    late = rng.random(len(plan)) < design.delayed
    plan.loc[late, "entry"] = rng.integers(20, 91, int(late.sum()))
    plan["seen"] = rng.binomial(plan["size"].to_numpy(), design.seen)
    return plan.sort_values(["keeper", "start"], kind="stable", ignore_index=True)


def _removals(
    plan: pd.DataFrame, looks: Looks, design: Design, rng: np.random.Generator
) -> tuple[Floats, Ints]:
    """Choose the look (day) after which a queen is given away; inf where none is."""
    candidate = looks.open & (looks.days >= 10) & (looks.days <= 100)
    chance = np.where(candidate, rng.random(looks.days.shape), -1.0)
    day = np.take_along_axis(looks.days, chance.argmax(axis=1)[:, None], axis=1)[:, 0]
    wanted = (rng.random(len(plan)) < design.removals) & (plan["size"].to_numpy() >= 2)
    at = np.where(wanted & candidate.any(axis=1) & (plan["entry"] == 0), day, np.inf)
    return at, np.isfinite(at).astype(np.int64)


def _codes(keeper: NDArray[np.int64], keepers: int) -> tuple[list[str], list[str]]:
    """Keeper codes and founding ids (rows in order of keeper), a series per keeper."""
    number = pd.Series(keeper).groupby(keeper).cumcount().to_numpy() + 1
    width = max(2, len(str(number.max())))
    names = [f"K{k + 1:0{len(str(keepers))}d}" for k in keeper]
    return names, [f"{k}-{i:0{width}d}" for k, i in zip(names, number, strict=True)]


def simulate_study(design: Design, truth: Truth, seed: int) -> SimulatedStudy:
    """Return a season's sheets, drawn event by event from `truth`.

    Parameters
    ----------
    design : Design
        Layout of the season.
    truth : Truth
        Its genera are the study's genera, in that order.
    seed : int
        Seed of the one random generator used.

    Raises
    ------
    ValueError
        If `truth` has no genus, or its slopes speak of a covariate that `design` gives to nobody.
    """
    if not truth.genera:
        raise ValueError("the truth needs at least one genus")
    rng = np.random.default_rng(seed)
    plan = laid_out(design, list(truth.genera), rng)
    given = np.random.default_rng([seed, 6])
    for name, values in design.covariates.items():
        if name in plan:
            raise ValueError(f"covariates: '{name}' is laid out already")
        plan[name] = given.permutation(np.resize(np.array(values), len(plan)))
    looks = looks_of(plan, design, rng)
    until = float(looks.days[looks.open].max(initial=design.horizon))
    weather = _weather(plan, design, until, np.random.default_rng([seed, 5]))
    grown = None if weather is None else partial(_grown, weather, plan, truth.threshold)
    rests = _rests(plan, design)
    fates = live(plan, truth, until, _removals(plan, looks, design, rng), rng, grown, rests)
    return written_down(plan, looks, fates, design, truth, rng, weather)


def _rests(plan: pd.DataFrame, design: Design) -> Floats | None:
    """Days since day 0 of each founding on which winter rest begins and ends, (n, 2)."""
    if design.winter is None or design.spring is None:
        return None
    days = np.array([(day - design.first_flight).days for day in (design.winter, design.spring)])
    return np.asarray(days[None, :] - plan["start"].to_numpy()[:, None], dtype=float)


def written_down(
    plan: pd.DataFrame,
    looks: Looks,
    fates: Fates,
    design: Design,
    truth: Truth,
    rng: np.random.Generator,
    weather: Weather | None = None,
) -> SimulatedStudy:
    """Return the sheets of a season that was lived through.

    Parameters
    ----------
    plan : pandas.DataFrame
        From :func:`laid_out`, one row per founding. A column `assigned` (word of the sheet) says
        who was not allotted by lot; without it all were.
    looks, fates : Looks, Fates
        Of the rows of `plan`.
    design, truth : Design, Truth
    rng : numpy.random.Generator
    weather : Weather, optional
        Temperatures to be written down.
    """
    dead = (fates.deaths <= plan["entry"].to_numpy()[:, None]).sum(axis=1)
    known = ((plan["entry"] == 0) | (dead < plan["size"])).to_numpy()
    plan, looks, fates = plan[known].reset_index(drop=True), looks.take(known), fates.take(known)
    plan["code"], plan["founding"] = _codes(plan["keeper"].to_numpy(), design.keepers)
    day = pd.Timestamp(design.first_flight) + pd.to_timedelta(np.arange(1000), unit="D")
    dates = day.strftime("%Y-%m-%d").to_numpy(dtype=object)
    checks = check_sheet(plan, looks, fates, dates, design, rng)
    frames = {
        "foundings": _founding_sheet(plan, dates, design.covariates),
        "checks": checks,
        "events": _event_sheet(plan, looks, fates, dates),
    }
    sheets = _sheets(design, frames)
    if weather is not None:
        names = [f"S{i + 1}" for i in range(len(weather.low))]
        sheets["temperatures.csv"] = weather.sheet(dates, names)
    return SimulatedStudy(sheets, truth, _fate_table(plan, fates, design.horizon))


def _weather(
    plan: pd.DataFrame, design: Design, until: float, rng: np.random.Generator
) -> Weather | None:
    """Draw the temperatures of the season, and put each founding on a shelf (column of `plan`)."""
    if design.shelves is None:
        return None
    plan["shelf"] = rng.integers(0, len(design.shelves.means), len(plan))
    days = int(plan["start"].max() + until) + 1
    return design.shelves.drawn(days, design.first_flight, rng)


def _grown(
    weather: Weather, plan: pd.DataFrame, threshold: float, need: Floats, rows: Ints
) -> Floats:
    shelf, start = (plan[c].to_numpy(np.int64)[rows] for c in ("shelf", "start"))
    return weather.grown(need, shelf, start, threshold)


def _founding_sheet(
    plan: pd.DataFrame, dates: NDArray[np.object_], covariates: Iterable[str]
) -> pd.DataFrame:
    late = plan["entry"] > 0
    lot = plan.get("assigned", "random")
    sheet = pd.DataFrame(
        {
            "founding": plan["founding"],
            "genus": plan["genus"],
            "started": dates[plan["start"]],
            "queens": plan["size"],
            "assigned": np.where(late, "", lot),
            "block": [f"B{b + 1}" for b in plan["block"]],
            "keeper": plan["code"],
            "flight_date": dates[plan["flight_day"]],
            "followed_from": np.where(late, dates[plan["start"] + plan["entry"]], ""),
            "mating_seen": np.where(plan["seen"] > 0, plan["seen"].astype(str), ""),
        }
    )
    sheet.loc[sheet["assigned"] != "random", "block"] = ""
    if "shelf" in plan:
        sheet["shelf"] = [f"S{i + 1}" for i in plan["shelf"]]
    for name in covariates:
        sheet[name] = plan[name]
    empty = [c for c in ("followed_from", "mating_seen") if (sheet[c] == "").all()]
    return sheet.drop(columns=empty)


def _event_sheet(
    plan: pd.DataFrame, looks: Looks, fates: Fates, dates: NDArray[np.object_]
) -> pd.DataFrame:
    """Return the queens given away while the founding was still looked at."""
    out = (fates.taken > 0) & (fates.taken_at <= looks.last)
    day = np.where(out, fates.taken_at, 0).astype(np.int64)
    return pd.DataFrame(
        {
            "founding": plan["founding"],
            "date": dates[plan["start"].to_numpy() + day],
            "event": "queens-out",
            "number": fates.taken.astype(str),
            "other": "given",
        }
    )[out]


def _sheets(design: Design, frames: Mapping[str, pd.DataFrame]) -> dict[str, pd.DataFrame | str]:
    """File names; a keeper with shelf days has files of their own, for `rest` speaks of a file."""
    toml = f'title = "{design.title}"\nseason = "{design.first_flight.year}"\n'
    toml += f"horizon_days = {design.horizon}\nlook_every = {design.look_every}\n"
    toml += "through_winter = true\n" if design.spring else ""
    sheets: dict[str, pd.DataFrame | str] = {"study.toml": toml}
    for name, frame in frames.items():
        if frame.empty:
            continue
        if design.calendar != "shelf":
            sheets[f"{name}.csv"] = frame.drop(columns="code", errors="ignore")
            continue
        owner = frame["code"] if "code" in frame else frame["founding"].str.split("-").str[0]
        for code, part in frame.groupby(owner, sort=True):
            sheets[f"{name}-{code}.csv"] = part.drop(columns="code", errors="ignore")
    if design.winter is not None:
        days = [design.winter.isoformat(), *([design.spring.isoformat()] if design.spring else [])]
        words = ["winter-in", "winter-out"][: len(days)]
        cold = {"founding": ["all"] * len(days), "date": days, "event": words}
        codes = [k for k in sheets if k.startswith("checks")]
        for name in codes:
            target = name.replace("checks", "events")
            have = sheets.get(target)
            parts = [have] if isinstance(have, pd.DataFrame) else []
            sheets[target] = pd.concat([*parts, pd.DataFrame(cold)]).fillna("")
    return sheets


def _fate_table(plan: pd.DataFrame, fates: Fates, horizon: int) -> pd.DataFrame:
    """Return what truly happened, one row per founding."""
    size, left = plan["size"].to_numpy(), plan["size"].to_numpy() - fates.taken
    died = np.isfinite(fates.deaths).sum(axis=1)
    last = np.where(np.isfinite(fates.deaths), fates.deaths, -1.0).max(axis=1)
    gone = np.where(fates.taken_at <= horizon, fates.taken, 0)
    return pd.DataFrame(
        {
            "founding": plan["founding"],
            "genus": plan["genus"],
            "queens": size,
            "first_worker": fates.first_worker,
            "lost": np.where(died >= left, last, np.inf),
            "alive": size - gone - (fates.deaths <= horizon).sum(axis=1),
        }
    )


def simple_study(
    n_foundings: int,
    genera: Mapping[str, GenusTruth],
    sizes: Sequence[int] = (1, 3),
    look_every: int = 7,
    horizon: int = 160,
    seed: int = 1,
) -> SimulatedStudy:
    """Return a clean season: allotted at random in blocks, looked at every n days, no surprises.

    Parameters
    ----------
    n_foundings : int
        Foundings, divided evenly over genera and sizes.
    genera : mapping of str to GenusTruth
        The genera and their truth.
    sizes : sequence of int
        Queens per founding.
    look_every, horizon : int
        Days between looks; last day, on which all are looked at.
    seed : int
        Seed of the random generator.
    """
    design = Design(
        foundings=n_foundings, sizes=tuple(sizes), look_every=look_every, horizon=horizon
    )
    return simulate_study(design, Truth(dict(genera)), seed)
