"""Who looks after a founding: the keeper it began with, or the last it was handed over to.

What comes in: a study. What goes out: a sign for each founding. It changes nothing.
"""

from __future__ import annotations

import pandas as pd

from cohort.base.frames import held
from cohort.study.tables import Study

HANDED = "handed-over"


def keepers_now(study: Study) -> pd.Series:
    """Sign of the keeper of each founding by now; blank where the sheets name none.

    Parameters
    ----------
    study : Study

    Returns
    -------
    Series of str, shape (foundings,)
        Indexed as ``study.foundings``.
    """
    found, events = held(study, "foundings"), held(study, "events")
    handed = events[(events["event"] == HANDED) & (events["other"] != "")]
    last = handed.sort_values("date", kind="stable").groupby("founding")["other"].last()
    return found["founding"].map(last).fillna(found["keeper"]).astype(object)
