"""The founding likelihood as one node of a PyTensor graph.

Comes in: symbolic parameters and packed tables. Goes out: a scalar log-likelihood whose
gradient comes from the same compiled pass. Never: a formula of its own (`likelihood` has them).
"""

from __future__ import annotations

from pathlib import Path
from typing import Any, Final

import numpy as np
import pytensor.tensor as pt
from pytensor.gradient import disconnected_type
from pytensor.graph.basic import Apply
from pytensor.graph.op import Op
from pytensor.link.numba.dispatch import basic as numba_basic

from cohort.likelihood.assembly import study_by_genus
from cohort.likelihood.machine_code import KERNELS, digest_of


def kernel_salt(folders: tuple[Path, ...] = KERNELS) -> int:
    """A number that changes with the source of any kernel module.

    PyTensor's cache of machine code does not see into our functions; without this salt an
    edited kernel would go on running its old code.
    """
    return int(digest_of(folders)[:14], 16)


PARAMETERS: Final = 4
"""How many of the inputs have a gradient; the rest are data."""


class FoundingLogLik(Op):
    """Log-likelihood of a study given the frailties, with its gradient as further outputs.

    Inputs: those of `cohort.likelihood.assembly.study_by_genus`, in its order. Outputs: the
    log-likelihood (scalar), then the derivative in each of the first `PARAMETERS` inputs.
    """

    __props__ = ()

    def make_node(self, *inputs: Any) -> Apply:
        """Wire the inputs to the outputs."""
        given = [pt.as_tensor_variable(v) for v in inputs]
        return Apply(self, given, [pt.dscalar(), *(v.type() for v in given[:PARAMETERS])])

    def perform(self, node: Apply, inputs: Any, output_storage: Any) -> None:
        """Compute the outputs outside a compiled graph."""
        for storage, value in zip(output_storage, study_by_genus(*inputs), strict=True):
            storage[0] = np.asarray(value)

    def infer_shape(self, node: Apply, shapes: Any) -> list[Any]:
        """Shapes of the outputs."""
        return [(), *shapes[:PARAMETERS]]

    def connection_pattern(self, node: Apply) -> list[list[bool]]:
        """Say that only the log-likelihood depends on anything, and on parameters alone."""
        none = [False] * PARAMETERS
        return [[i < PARAMETERS, *none] for i in range(len(node.inputs))]

    def pullback(self, inputs: Any, outputs: Any, cotangents: Any) -> list[Any]:
        """Gradient times what flows back into the log-likelihood."""
        data = [disconnected_type() for _ in inputs[PARAMETERS:]]
        return [cotangents[0] * slope for slope in outputs[1:]] + data


@numba_basic.register_funcify_default_op_cache_key(FoundingLogLik)
def _funcify(op: FoundingLogLik, node: Apply, **kwargs: Any) -> tuple[Any, int]:
    @numba_basic.numba_njit
    def founding_loglik(effects, shared, added, z, study):  # type: ignore[no-untyped-def]  # compiled by numba
        out = study_by_genus(effects, shared, added, z, study)
        return np.asarray(out[0]), out[1], out[2], out[3], out[4]

    return founding_loglik, kernel_salt()


founding_loglik = FoundingLogLik()
