"""The founding model in PyMC: to read, to sample otherwise, to extend.

Comes in: a study or a history, priors, and what somebody wants changed. Goes out: a
`FoundingModel`, which is a `pymc.Model` with the looks at each founding as its observed variable.
Never: what `cohort compare` samples by default (`likelihood.density` is the same model, quicker,
nothing to compile; a test holds both together).

Priors, dims, names and coordinates are those of `cohort.model.written_parts`; the columns the
likelihood takes are those of `cohort.likelihood.by_founding`.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import numpy.typing as npt
import pymc as pm
import pytensor.tensor as pt

from cohort.base.errors import StudyError
from cohort.history import History
from cohort.history.warmed import as_compared
from cohort.likelihood import layout as at
from cohort.likelihood.by_founding import LIVED
from cohort.likelihood.exposure import Exposure
from cohort.likelihood.packing import STEPS
from cohort.model.design import ModelDesign, Variant
from cohort.model.log_posterior import log_posterior, packed_study
from cohort.model.looks_of_founding import TALLIES, in_tallies, replicated
from cohort.model.op import average_loglik, founding_loglik
from cohort.model.parameters import EFFECTS
from cohort.model.parts import PIECES, Parts
from cohort.model.places import named_dims
from cohort.model.priors import Priors
from cohort.model.replicated import calendar
from cohort.model.sample import prepare
from cohort.model.written_parts import written_parts
from cohort.study import Study
from cohort.terms.adjusting import Adjust

Floats = npt.NDArray[np.float64]
Change = Callable[[Parts], object]
"""A function that puts other tensors in the place of some `Parts`, inside the model."""
OBSERVED: Final = "looks"
"""Name of the observed variable."""
MOVED: Final = "moved_by_own"
"""What one's own effects move: the difference they make to columns of `LIVED`, by founding."""


@dataclass(frozen=True)
class About:
    """What a `FoundingModel` was made of.

    Attributes
    ----------
    history : History or None
    design : ModelDesign
    exposure : Exposure
    priors : Priors
    adjust : Adjust
    change : callable or None
    own : tuple of str
        Names of one's own variables.
    moves : tuple of str
        Parts that were assigned to.
    average_frailty : bool
    seen : float array, shape (foundings, len(TALLIES))
        What was observed.
    """

    history: History | None
    design: ModelDesign
    exposure: Exposure
    priors: Priors
    adjust: Adjust
    change: Change | None
    own: tuple[str, ...]
    moves: tuple[str, ...]
    average_frailty: bool
    seen: Floats


class FoundingModel(pm.Model):  # type: ignore[misc]  # pymc has no types
    """A `pymc.Model` of foundings; ``about`` says what it was made of."""

    about: About


def _columns(parts: Mapping[str, Any], design: ModelDesign) -> dict[int, Any]:
    """The columns of `LIVED`, each a number or one for every founding."""
    seen = design.seen
    unmated = (design.size - seen) * pt.softplus(parts["mated"])  # minus the log of the chance
    if seen.any():
        unmated = unmated + seen * pt.softplus(parts["mated"] + parts["seen"])
    out = {
        at.HAZARD1: parts["founding_hazard"],
        at.TOGETHER: parts["together"],
        at.HAZARD2: parts["worker_hazard"],
        at.RIVALRY: parts["rivalry"],
        at.LAST_FIGHT: pt.sigmoid(parts["last_fight"]),
        at.LOG_DAY: parts["first_worker"],
        at.FERTILE: -pt.expm1(-unmated),
        at.FRAILTY: parts["frailty"],
        at.THRESHOLD: parts["warm_threshold"],
    }
    for name, first in (("pace_before", at.STEPS1), ("pace_after", at.STEPS2)):
        for j in range(PIECES[name]):
            out[at.FOUNDING_WIDTH + first + j] = parts[name][..., j]
    out[at.FOUNDING_WIDTH + at.WITHIN_DAYS] = parts["within_days"]
    out[at.FOUNDING_WIDTH + at.SIGMA] = parts["frailty_sd"]
    out[at.FOUNDING_WIDTH + at.LOADING] = parts["loading"]
    out[at.FOUNDING_WIDTH + at.WINTER] = parts["winter"]
    out[at.FOUNDING_WIDTH + at.WINTER_COMPANY] = parts["winter_company"]
    return out


def _by_founding(column: Any, foundings: int) -> Any:
    column = pt.as_tensor(column)
    return pt.alloc(column, foundings) if column.type.ndim == 0 else column


_FEEDS: Final = {
    "founding_hazard": (at.HAZARD1,),
    "together": (at.TOGETHER,),
    "worker_hazard": (at.HAZARD2,),
    "rivalry": (at.RIVALRY,),
    "last_fight": (at.LAST_FIGHT,),
    "first_worker": (at.LOG_DAY,),
    "mated": (at.FERTILE,),
    "seen": (at.FERTILE,),
    "warm_threshold": (at.THRESHOLD,),
    "pace_before": tuple(at.FOUNDING_WIDTH + at.STEPS1 + j for j in range(at.N1)),
    "pace_after": tuple(at.FOUNDING_WIDTH + at.STEPS2 + j for j in range(at.N2)),
    "within_days": (at.FOUNDING_WIDTH + at.WITHIN_DAYS,),
    "frailty_sd": (at.FOUNDING_WIDTH + at.SIGMA,),
    "loading": (at.FOUNDING_WIDTH + at.LOADING,),
    "winter": (at.FOUNDING_WIDTH + at.WINTER,),
    "winter_company": (at.FOUNDING_WIDTH + at.WINTER_COMPANY,),
}
"""Columns of `LIVED` that a part is read in; the frailty of new foundings is drawn anew."""


def _changed(change: Change, parts: dict[str, Any], exposure: Exposure) -> Parts:
    """The parts after somebody's change.

    Raises
    ------
    StudyError
        The change hands something back, or puts nothing in the place of any part.
    """
    mine = Parts(parts, exposure.foundings)
    back = change(mine)
    if back is not None and back is not mine:
        raise StudyError(
            "change is to alter the parts it is given, and to hand nothing back: write "
            "parts['first_worker'] += slope * x inside it."
        )
    if not mine.touched:
        raise StudyError(
            "change moved nothing: it must put another tensor in the place of a part, as "
            "parts['first_worker'] += slope * x does."
        )
    return mine


def written_out(
    design: ModelDesign,
    exposure: Exposure,
    priors: Priors,
    *,
    history: History | None = None,
    adjust: Adjust | None = None,
    change: Change | None = None,
    average_frailty: bool = False,
) -> FoundingModel:
    """The PyMC model of a design.

    Parameters
    ----------
    design : ModelDesign
    exposure : Exposure
        Packed tables of the same foundings.
    priors : Priors
    history : History, optional
        Of the same foundings. Without it nothing can be replicated, and what was observed is left
        at nought; the likelihood is the same.
    adjust : Adjust, optional
        What the design was adjusted for; only kept.
    change : callable, optional
    average_frailty : bool
        See `founding_model`.
    """
    target = log_posterior(design, exposure, priors)
    count = len(design.foundings)
    coords: dict[str, Any] = {
        "genus": list(design.genera),
        "effect": list(EFFECTS),
        "contrast": list(range(len(design.genera) - 1)),
        "step": list(range(STEPS)),
        "phase": ["before", "after"],
        "tally": list(TALLIES),
    }
    coords |= named_dims(design)
    plan, seen = None, np.zeros((count, len(TALLIES)))
    if history is not None:
        plan, shown = calendar(history)
        seen = in_tallies(plan, shown)[0]
    study = packed_study(design, exposure)
    node = average_loglik if average_frailty else founding_loglik

    def logp(value: Any, lived: Any) -> Any:
        outputs: Any = node(lived, study)
        return outputs[0]

    def random(lived: Floats, rng: Any = None, size: Any = None) -> Floats:
        if plan is None:
            raise StudyError("This model was made without a history: it cannot replicate a study.")
        return _replicates(lived, rng, size, plan)

    model: FoundingModel
    with FoundingModel(coords=coords) as model:
        parts: Mapping[str, Any] = written_parts(
            design, priors, target, average_frailty=average_frailty
        )
        plain, ours = dict(parts), set(model.named_vars)
        moves: tuple[str, ...] = ()
        if change is not None:
            mine = _changed(change, plain, exposure)
            parts, moves = mine, tuple(mine.touched)
        own = tuple(name for name in model.named_vars if name not in ours)
        columns = {j: _by_founding(c, count) for j, c in sorted(_columns(parts, design).items())}
        fed = sorted({j for name in moves for j in _FEEDS.get(name, ())})
        if fed:
            before = _columns(plain, design)
            moved = pt.stack([columns[j] - before[j] for j in fed], axis=1)
            model.add_coord("moved", fed)
            pm.Deterministic(MOVED, moved, dims=("founding", "moved"))
        pm.CustomDist(
            OBSERVED,
            pt.stack([columns[j] for j in range(LIVED)], axis=1),
            logp=logp,
            random=random,
            signature=f"(w)->({len(TALLIES)})",
            observed=seen,
            dims=("founding", "tally"),
        )
    model.about = About(
        history, design, exposure, priors, adjust or Adjust(), change, own, moves,
        average_frailty, seen,
    )  # fmt: skip
    return model


def _replicates(lived: Floats, rng: Any, size: Any, plan: Any) -> Floats:
    """Replicated looks; PyMC may ask for several draws at once."""
    shape = lived.shape[:-1] if size is None else tuple(np.atleast_1d(size))
    whole = np.broadcast_to(lived, (*shape, lived.shape[-1]))
    out = replicated(whole.reshape(-1, *whole.shape[-2:]), plan, rng)
    return out.reshape(*shape, len(TALLIES))


def founding_model(
    study: Study | History,
    *,
    priors: Priors | None = None,
    adjust: Adjust | Iterable[str] | None = None,
    variant: Variant = "",
    change: Change | None = None,
    average_frailty: bool = False,
) -> FoundingModel:
    """The founding model of a study as a PyMC model: the very one that `cohort.compare` fits.

    Parameters
    ----------
    study : Study or History
        Of a study the history that is compared, warmth included.
    priors : Priors, optional
        By default those of the table; ``cohort.Priors().but(together={"sd": 2.0})`` for others.
    adjust : dict, iterable of str or Adjust, optional
        Columns to adjust for: by the part they may move, as ``{"first_worker": ["housing"]}``, or a
        plain list, which moves the survival before and with workers. Left out, what the settings of
        the study say; of a history nothing.
    variant : str
        See `cohort.model.design.VARIANTS`.
    change : callable, optional
        Called inside the model with its `cohort.model.parts.Parts`, tensors by founding under the
        names they have in a posterior; what it puts in their place is what foundings live by. The
        compared foundings, in the order of the tensors, are ``parts.foundings``.
    average_frailty : bool
        Averaged over the frailty, by the same integral as in `cohort.model.pointwise`: for leaving
        out foundings by draws that are there already, as in
        ``pm.compute_log_likelihood(trace, model=...)``. It cannot be sampled.

    Returns
    -------
    FoundingModel
        A `pymc.Model`. Hazards are logs per queen and day, times logs of days. The observed
        variable is ``looks``, dims ``founding`` and ``tally``
        (`cohort.model.looks_of_founding.TALLIES`).
        Its likelihood rests on every look, not on these five numbers: they show what was seen, and
        other numbers in their place would change nothing.

    Raises
    ------
    StudyError
        Nothing to compare, a covariate that cannot enter, or a change that names no part, or puts
        a tensor of another shape in the place of one.

    Notes
    -----
    What is said of *new* foundings (`cohort.compare`) is said at the values the parts have without
    the change: of a covariate x, at x = 0. Centre it, and that is an average founding. What is put
    in the place of ``frailty`` stays with the foundings of the study: checks, replicates and the
    leaving out of foundings draw it anew, as a standard normal.

    Examples
    --------
    Queens that flew ten days later may have their first worker so much later:

    >>> import cohort, pymc as pm
    >>> def late_flights(parts):
    ...     start = parts.foundings["started"]
    ...     days = (start - start.min()).dt.days.to_numpy()
    ...     slope = pm.Normal("late_flights", 0.0, 0.2)
    ...     parts["first_worker"] += slope * (days - days.mean()) / 10
    >>> few = cohort.read_study("data/demo").only(genus=["Lasius", "Messor"])
    >>> model = cohort.founding_model(few, change=late_flights)
    >>> model.about.own, model.about.moves
    (('late_flights',), ('first_worker',))

    The tests pass over the line marked ``+SKIP``, because PyMC compiles for a minute:

    >>> made = cohort.compare(few, model=model)  # doctest: +SKIP
    """
    if change is not None and not callable(change):
        raise StudyError(
            f"change is a {type(change).__name__}; give a function of the parts, such as "
            "def change(parts): parts['first_worker'] += ..."
        )
    past, agreed = as_compared(study, adjust)
    design, exposure = prepare(past, adjust=agreed, variant=variant)
    if isinstance(study, Study) and not study.settings.show_keepers:
        design = design.numbered("keeper")  # as in a comparison, whose files then name none
    return written_out(
        design,
        exposure,
        priors or Priors(),
        history=past,
        adjust=agreed,
        change=change,
        average_frailty=average_frailty,
    )
