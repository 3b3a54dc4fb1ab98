"""What a comparison leaves in memory.

Comes in: what `compare` made. Goes out: a frozen `Comparison`. Never: a step of the comparison.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Any

from cohort import results as store
from cohort.base.display import Facts, Shown
from cohort.base.errors import StudyError
from cohort.base.frames import compared_by_content
from cohort.history import History
from cohort.model.sample import Fit
from cohort.results import Results
from cohort.results.printed import Printed
from cohort.study import Study

if TYPE_CHECKING:
    import xarray as xr


@compared_by_content
@dataclass(frozen=True, repr=False, eq=False)
class Comparison(Printed, Shown):
    """Everything a comparison leaves in memory.

    Attributes
    ----------
    study : Study
    history : History
    results : Results
    fit : Fit or None
        None when there was nothing to fit.
    draws : DataTree or None
        What goes to ``draws.nc``: posterior, sample_stats, constant_data, and the log-likelihood of
        thinned draws.
    model : FoundingModel or None
        The model of one's own it rests on.

    Examples
    --------
    >>> import cohort
    >>> made = cohort.compare(cohort.read_study("data/demo").only(queens=1))  # nothing to fit
    >>> made.fit is None, made.results.settled
    (True, False)
    """

    study: Study
    history: History
    results: Results
    fit: Fit | None = None
    draws: xr.DataTree | None = None
    model: Any = None

    @cached_property
    def tree(self) -> xr.DataTree:
        """All there is of the draws, as ArviZ reads it; made when it is first asked for.

        See `cohort.outcomes.tree.whole_tree` for the groups. Of the default comparison it takes
        some seconds, of a model of one's own half a minute and more, as PyMC compiles what draws
        from it.

        Raises
        ------
        StudyError
            The comparison was not fitted.

        Examples
        --------
        The tests pass over lines marked ``+SKIP``, because they sample for half a minute:

        >>> import arviz, cohort
        >>> made = cohort.compare(cohort.read_study("data/demo"))  # doctest: +SKIP
        >>> arviz.loo(made.tree)  # doctest: +SKIP
        """
        from cohort.outcomes.tree import whole_tree

        if self.fit is None or self.draws is None:
            why = "; ".join(self.results.diagnosis.get("reasons", ()))
            raise StudyError(f"There are no draws to look at: {why}")
        about = {str(name): value for name, value in self.draws.attrs.items()}
        return whole_tree(self.fit, self.history, model=self.model, attrs=about)

    def facts(self) -> tuple[str, Facts]:
        """What its results say, and its notes."""
        title, facts = self.results.facts()
        notes = self.results.diagnosis.get("notes", ())
        return title.replace("Results", "Comparison"), facts | {
            f"note {i}": note for i, note in enumerate(notes, 1)
        }

    def write(self, folder: str | Path) -> Results:
        """Write the folder of results.

        Everything of an earlier comparison leaves the folder, its page and pictures too.

        Parameters
        ----------
        folder : path

        Returns
        -------
        Results
            With their folder.

        Raises
        ------
        StudyError
            The folder holds what is not ours, or cannot be written.

        Examples
        --------
        >>> import cohort
        >>> made = cohort.compare(cohort.read_study("data/demo").only(queens=1))
        >>> made.write("out-singles").folder.name
        'out-singles'
        """
        return store.write(folder, self.results, self.draws, study=self.study)
