"""What is left of a contrast when only foundings allotted by lot stand behind it.

Comes in: a history and the fit of the page. Goes out: which were by lot, and outcomes of a fit to
those alone. Never: a word.
"""

from __future__ import annotations

from typing import Any, Final

import numpy as np
import pandas as pd

from cohort.base.errors import StudyError
from cohort.history import History
from cohort.model.bounds import without
from cohort.model.sample import Fit, Said, prepare
from cohort.outcomes import Outcomes
from cohort.verdict.rules import OWN
from cohort.verdict.strength import refitted

LEAST: Final = 6
"""Foundings of each way by lot without which there is nothing to fit to them alone."""
RANDOM: Final = "random"
"""Allotted by lot, in the column ``assigned``."""


def by_lot(foundings: pd.DataFrame) -> pd.Series:
    """Whether each founding was allotted by lot."""
    return foundings["assigned"].astype(str).eq(RANDOM)


def enough(foundings: pd.DataFrame) -> frozenset[str]:
    """Kinds of which `OWN` foundings of each way were by lot; blank is all kinds, of `LEAST`.

    Parameters
    ----------
    foundings : DataFrame
        Those compared.
    """
    drawn = foundings[by_lot(foundings)]
    ways = pd.crosstab(drawn["genus"].astype(str), drawn["arm"])
    ways = ways.reindex(columns=["single", "multi"], fill_value=0)
    if not len(ways) or ways.sum().min() < LEAST:
        return frozenset()
    return frozenset(ways.index[ways.min(axis=1) >= OWN]) | {""}


def alone(past: History, fit: Fit, sizes: tuple[int, ...], adjust: Any) -> Outcomes | None:
    """Outcomes by the foundings allotted by lot alone, with the same priors.

    Parameters
    ----------
    past : History
    fit : Fit
        The model of the page.
    sizes : tuple of int
        Founding sizes.
    adjust : as in the settings of the study

    Returns
    -------
    Outcomes or None
        None where the fit cannot be made (a covariate with one value left, say) or its chains do
        not agree.
    """
    drawn = by_lot(past.foundings).to_numpy(dtype=np.bool_)
    try:
        study = prepare(without(past, ~drawn), adjust=adjust, variant=fit.design.variant)
    except StudyError:
        return None
    return refitted(fit, fit.priors, sizes, past.horizon, study)


def asked(
    past: History, fit: Fit, sizes: tuple[int, ...], adjust: Any, plain: bool, say: Said
) -> tuple[Outcomes | None, str]:
    """The same as `alone`, and what became of it, for ``diagnosis.json``.

    Parameters
    ----------
    past, fit, sizes, adjust : as in `alone`
    plain : bool
        Whether the fit is of the model of the page; a model of one's own is of all its foundings.
    say : callable
        Told of the fit.
    """
    if not plain:
        return None, "not fitted: the model, or its draws, are one's own"
    say("Fitting the foundings that were allotted by lot alone")
    found = alone(past, fit, sizes, adjust)
    return found, "not settled" if found is None else "fitted"
