"""What the analyst asks beyond the page: `cohort compare --thorough`.

Comes in: a `Comparison` that was fitted. Goes out: tables by name, one file each. Never: a change
of the page's numbers, a choice among the variants.

It fits the model about a dozen times more (`cohort.comparison.refits`), each time as long as a
comparison takes.
"""

from __future__ import annotations

import tempfile
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import numpy as np
import numpy.typing as npt
import pandas as pd

from cohort.base import making
from cohort.base.display import several
from cohort.base.errors import StudyError
from cohort.comparison.refits import WATCHED, How, Keeping, refits
from cohort.history import History
from cohort.model.sample import Fit, Said, silent
from cohort.model.sensitivity import BOTH, DATA_RULE, NEITHER, PRIORS_RULE
from cohort.outcomes.quantities import NO_DAY
from cohort.results.files import THOROUGH, ours
from cohort.sheets import written
from cohort.terms.questions import AVERAGE, SEEN

if TYPE_CHECKING:
    import xarray as xr

    from cohort.comparison import Comparison
    from cohort.outcomes import Outcomes

Floats = npt.NDArray[np.float64]
FAIR: Final = ("same_queens_any", "same_queens_count")
"""Contrasts of the same queens both ways, told under each reading."""


def _name(key: Any, kind: str) -> str:
    _, quantity, size, day, reading = key
    when = "" if day == NO_DAY else f", day {day:.0f}"
    when += f", {reading}" if reading else ""
    return f"{quantity} [{kind}, {size}{when}]"


def _watched(post: Outcomes, horizon: int) -> dict[str, Floats]:
    """Watched outcomes as (chain, draw) arrays; differences against singles where both occur."""
    out: dict[str, Floats] = {}
    for key, values in post.values.items():
        if key.quantity not in WATCHED or key.size == 1 or key.day not in (NO_DAY, horizon):
            continue
        alone = post.values.get(key._replace(size=1))
        apart = values if alone is None else values - alone
        shaped = apart.reshape(post.chains, -1, values.shape[1])
        for i, kind in enumerate(post.kinds):
            if np.ptp(shaped[..., i]) > 0:
                out[_name(key, kind)] = shaped[..., i]
    return out


def priors(fitted: Fit, loglik: xr.DataArray, history: History) -> pd.DataFrame:
    """How far the watched contrasts move with each prior; see `prior_sensitivity`.

    Parameters
    ----------
    fitted : Fit
    loglik : DataArray
        Of the same fit, see `cohort.model.pointwise.pointwise`.
    history : History
    """
    from cohort.model.sensitivity import log_priors, prior_sensitivity
    from cohort.outcomes import outcomes, posterior_draws

    chains = fitted.posterior.sizes["chain"]
    small = fitted.posterior.sel(draw=loglik["draw"])
    drawn = posterior_draws(
        small, fitted.design, fitted.priors, seed=fitted.seed, draws=chains * small.sizes["draw"]
    )
    chosen = history.foundings[history.foundings["compared"]]
    sizes = tuple(sorted({1, *chosen["size"].astype(int)}))
    numbers = _watched(outcomes(drawn, sizes, history.horizon), history.horizon)
    return prior_sensitivity(numbers, log_priors(small, fitted.design, fitted.priors), loglik)


def thorough(
    comparison: Comparison,
    *,
    folder: Path | None = None,
    mark: str | None = None,
    jobs: int = 1,
    scheduler: str = "",
    say: Said = silent,
) -> dict[str, pd.DataFrame]:
    """Every check of the model that takes further fits, as tables.

    Parameters
    ----------
    comparison : Comparison
        As `cohort.comparison.compare` gives it.
    folder : Path, optional
        Its folder of results: each refit leaves a file there as it is done, and one that was done
        for this very comparison is not done again.
    mark : str, optional
        Of the comparison there, see `write`.
    jobs, scheduler
        Refits at a time on this machine, or who does them: see `cohort.base.tasks.finish`.
    say : callable
        Told what is being done.

    Returns
    -------
    dict of DataFrame
        ``checks`` (expected against happened), ``left_out`` (each founding foretold by the
        others, with Pareto k), ``variants``, ``priors``, ``bounds``.

    Raises
    ------
    StudyError
        The comparison was not fitted, or rests on a model or draws of one's own; the folder holds
        another comparison by now; nobody to do the refits.
    """
    from cohort.model.loo import leave_one_out, row_of
    from cohort.model.pointwise import pointwise

    fitted, past = comparison.fit, comparison.history
    if fitted is None:
        raise StudyError(
            "There is no fit to look into: " + "; ".join(comparison.results.diagnosis["reasons"])
        )
    run = comparison.results.run
    if "model" in run or "variant" in run:
        raise StudyError(
            "This comparison rests on a model, a variant or draws of your own. Further fits are of "
            "the model of the page: compare the study without them first."
        )
    seed, level = int(run["seed"]), float(run["level"])
    adjust = comparison.study.settings.adjust
    out = {"checks": pd.DataFrame(comparison.results.diagnosis["checks"])}
    say("Leaving out one founding at a time")
    loglik = pointwise(fitted)
    reference = leave_one_out(loglik)
    out["left_out"] = reference.foundings
    say("Scaling the priors")
    out["priors"] = priors(fitted, loglik, past)
    how = How(fitted.priors, adjust, past.horizon, level, seed)
    first = row_of("", fitted, reference, reference)
    with tempfile.TemporaryDirectory() as nowhere:
        keeping = Keeping(folder or Path(nowhere), mark if folder else None, jobs, scheduler)
        out |= refits(past, fitted, first, reference, how, keeping, say=say)
    return out


def write(tables: dict[str, pd.DataFrame], folder: Path, *, mark: str | None = None) -> list[Path]:
    """Write ``thorough/<name>.csv`` into a folder of results, and ``thorough/told.txt``.

    All of them come into the folder at the end.

    Parameters
    ----------
    tables : dict of DataFrame
        As `thorough` gives them.
    folder : Path
    mark : str, optional
        Of the comparison they belong to, see `cohort.results.mark_of`;
        not looked at if not given.

    Raises
    ------
    StudyError
        The folder holds another comparison by now. Nothing is written.
    """
    with making.added(folder, ours) as new:
        Keeping(folder, mark).check()
        place = new.place / THOROUGH
        place.mkdir()
        paths = [place / f"{name}.csv" for name in tables]
        for path, table in zip(paths, tables.values(), strict=True):
            written.write(table, path.stem, path)
        paths.append(place / "told.txt")
        making.write(paths[-1], "\n".join(told(tables)) + "\n")
    return [new.later(path) for path in paths]


def told(tables: dict[str, pd.DataFrame], *, genus: str = AVERAGE) -> tuple[str, ...]:
    """What the tables say, one sentence each, for the analyst's page.

    Parameters
    ----------
    tables : dict of DataFrame
        As `thorough` gives them; those missing are passed over.
    genus : str
        Kind whose contrasts are followed through the readings.
    """
    out = []
    if "checks" in tables:
        checks = tables["checks"]
        odd = checks[checks["flagged"].astype(bool)]
        names = ", ".join(
            f"{r['check']} ({' '.join(filter(None, (r['by'], r['group'])))})"
            for r in odd.to_dict("records")
        )
        out.append(
            f"Replicated studies: {len(checks) - len(odd)} of {len(checks)} numbers lie where the "
            f"model expects them{'; outside: ' + names if len(odd) else ''}."
        )
    if "left_out" in tables:
        shaky = tables["left_out"].loc[~tables["left_out"]["reliable"].astype(bool), "founding"]
        which = f" ({', '.join(map(str, shaky))})" if len(shaky) else ""
        out.append(
            f"Leaving out one founding at a time: {len(shaky)} of {len(tables['left_out'])} "
            f"foundings move the result so much that their weight is a guess{which}."
        )
    if "priors" in tables:
        out.append(_scaled(tables["priors"]))
    if "bounds" in tables:
        out += _shifts(tables["bounds"], genus)
    if "variants" in tables:
        out += _variants(tables["variants"])
    return tuple(out)


_SCALED: Final = {
    PRIORS_RULE: "moved by the priors and not by the data",
    BOTH: "moved by both, which may disagree",
    DATA_RULE: "moved by the data alone",
    NEITHER: "moved by neither",
}
"""Verdicts of `prior_sensitivity` in words, in the order in which they are told."""
NAMED: Final = 12
"""Numbers of one verdict named in a sentence; the table has all of them."""


def _scaled(table: pd.DataFrame) -> str:
    """How many numbers move with the priors, with the data, with both, with neither."""
    parts = []
    for verdict, words in _SCALED.items():
        numbers = [str(n) for n in table.loc[table["verdict"] == verdict, "number"]]
        named = ""
        if numbers and verdict in (PRIORS_RULE, BOTH):
            rest = len(numbers) - NAMED
            more = f"; and {rest} more in priors.csv" if rest > 0 else ""
            named = f" ({'; '.join(numbers[:NAMED])}{more})"
        parts.append(f"{len(numbers)} {words}{named}")
    head = f"Scaling the priors and the data: of {several(len(table), 'number')}, "
    return f"{head}{'; '.join(parts)}."


def _shifts(table: pd.DataFrame, genus: str) -> list[str]:
    """How far the equal-queens contrasts move under each reading."""
    out = []
    rows = table[table["genus"].eq(genus) & table["quantity"].isin(FAIR) & table["colony"].eq(SEEN)]
    for _, part in rows[rows["reading"] != "as agreed"].groupby("reading", sort=False):
        worst = part.loc[part["shift"].abs().idxmax()]
        was = worst["mean"] - worst["shift"]
        doubt = "" if bool(part["settled"].all()) else " (its chains did not agree)"
        out.append(
            f"If {worst['meaning']}: {worst['quantity']} of {worst['queens']:.0f} queens would be "
            f"{worst['mean']:.2f} instead of {was:.2f}{doubt}."
        )
    return out


def _variants(table: pd.DataFrame) -> list[str]:
    out = []
    for row in table[table["variant"] != "as agreed"].to_dict("records"):
        difference, se = float(row["difference"]), float(row["se"])
        word = "better" if difference > 0 else "worse"
        apart = abs(difference) > max(4.0, 2 * se)
        verdict = f"foretells {word}" if apart else "foretells about as well"
        out.append(
            f"Variant '{row['variant']}' ({row['meaning']}) {verdict}: {difference:+.1f} "
            f"(standard error {se:.1f})."
        )
    return out
