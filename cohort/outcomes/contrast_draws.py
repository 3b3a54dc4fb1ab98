"""The draws behind the headline, taken out of the outcomes.

Comes in: outcomes of the posterior and of the priors. Goes out: what
`cohort.results.headline_draws` keeps. Never: a summary.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt

from cohort.nonparametric.followed import last_given
from cohort.outcomes.quantities import Key, Outcomes
from cohort.results.headline_draws import SOURCES, as_dataset
from cohort.results.verdict_rows import HEADLINE
from cohort.terms.questions import NEXT_SEASON, SEEN

if TYPE_CHECKING:
    import xarray as xr

Floats = npt.NDArray[np.float64]


def contrast_draws(
    post: Outcomes, prior: Outcomes, queens: int, days: Mapping[str, int]
) -> xr.Dataset | None:
    """Draws of the headline contrast, each kind on the last day that may be spoken of.

    Parameters
    ----------
    post, prior : Outcomes
        Of the same kinds and sizes.
    queens : int
        Size of the group.
    days : mapping of str to int
        Last day that may be spoken of, by kind.

    Returns
    -------
    Dataset or None
        See `cohort.results.headline_draws.as_dataset`; kinds of which no day may be spoken of are
        left out, and None is given where none is left.
    """
    given = sorted(int(key.day) for key in post.values if key == _key(queens, key.day))
    last = {kind: last_given(given, days.get(kind, 0)) for kind in post.kinds}
    kept = [kind for kind in post.kinds if last[kind] and kind != NEXT_SEASON]
    if not kept:
        return None
    both = zip(SOURCES, (post, prior), strict=True)
    draws = {source: _columns(of, kept, queens, last) for source, of in both}
    return as_dataset(draws, kept, queens, [last[kind] for kind in kept])


def _key(queens: int, day: float) -> Key:
    return Key("colony", HEADLINE, queens, day, SEEN)


def _columns(of: Outcomes, kinds: list[str], queens: int, last: Mapping[str, int]) -> Floats:
    columns = [of.values[_key(queens, last[k])][:, of.kinds.index(k)] for k in kinds]
    stacked: Floats = np.stack(columns, axis=1)
    return stacked
