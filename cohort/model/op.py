"""The founding likelihood as one node of a PyTensor graph.

Comes in: symbolic rows of what each founding lives by, and packed tables. Goes out: a
log-likelihood per founding whose gradient comes from the same compiled pass. Never: a formula of
its own (`likelihood` has them).
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytensor.tensor as pt
from pytensor.gradient import disconnected_type
from pytensor.graph.basic import Apply
from pytensor.graph.op import Op
from pytensor.link.numba.dispatch import basic as numba_basic

from cohort.base.errors import StudyError
from cohort.likelihood.by_founding import loglik_by_founding
from cohort.likelihood.machine_code import KERNELS, digest_of


def kernel_salt(folders: tuple[Path, ...] = KERNELS) -> int:
    """A number that changes with the source of any kernel module.

    PyTensor's cache of machine code does not see into our functions; without this salt an
    edited kernel would go on running its old code.
    """
    return int(digest_of(folders)[:14], 16)


class FoundingLogLik(Op):
    """Log-likelihood of each founding, with its gradient as a further output.

    Inputs: rows as in `cohort.likelihood.by_founding`, shape (foundings, LIVED), and the packed
    study. Outputs: log-likelihoods, shape (foundings,), and slopes, shape (foundings, LIVED).

    Parameters
    ----------
    average : bool
        Averaged over the frailty, for leaving foundings out; without a gradient.
    """

    __props__ = ("average",)

    def __init__(self, average: bool = False) -> None:
        self.average = average

    def make_node(self, *inputs: Any) -> Apply:
        """Wire the inputs to the outputs."""
        lived, study = (pt.as_tensor_variable(v) for v in inputs)
        count = lived.type.shape[0]
        value = pt.TensorType("float64", (count,))()
        return Apply(self, [lived, study], [value, pt.TensorType("float64", lived.type.shape)()])

    def perform(self, node: Apply, inputs: Any, output_storage: Any) -> None:
        """Compute the outputs outside a compiled graph."""
        lived, study = (np.ascontiguousarray(v, np.float64) for v in inputs)
        for storage, value in zip(
            output_storage, loglik_by_founding(lived, study, int(self.average)), strict=True
        ):
            storage[0] = value

    def infer_shape(self, node: Apply, shapes: Any) -> list[Any]:
        """Shapes of the outputs."""
        return [shapes[0][:1], shapes[0]]

    def connection_pattern(self, node: Apply) -> list[list[bool]]:
        """Say that only the log-likelihoods depend on anything, and on the rows alone."""
        return [[True, False], [False, False]]

    def pullback(self, inputs: Any, outputs: Any, cotangents: Any) -> list[Any]:
        """Slopes of each founding times what flows back into its log-likelihood.

        Raises
        ------
        StudyError
            The frailty is averaged out.
        """
        if self.average:
            raise StudyError(
                "A model with the frailty averaged out weighs draws that are there already "
                "(pm.compute_log_likelihood); it has no gradient to be sampled by. Sample the "
                "model as founding_model makes it without average_frailty."
            )
        return [cotangents[0][:, None] * outputs[1], disconnected_type()]


@numba_basic.register_funcify_default_op_cache_key(FoundingLogLik)
def _funcify(op: FoundingLogLik, node: Apply, **kwargs: Any) -> tuple[Any, int]:
    average = int(op.average)

    @numba_basic.numba_njit
    def founding_loglik(lived, study):  # type: ignore[no-untyped-def]  # compiled by numba
        return loglik_by_founding(np.ascontiguousarray(lived), study, average)

    return founding_loglik, kernel_salt() + average


founding_loglik = FoundingLogLik()
average_loglik = FoundingLogLik(average=True)
