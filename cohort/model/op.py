"""The founding likelihood as one node of a PyTensor graph.

Comes in: symbolic parameter arrays and packed tables. Goes out: a scalar log-likelihood whose
slopes come from the same compiled pass. Never: a formula of its own (`transitions` has them).
"""

from __future__ import annotations

import hashlib
from pathlib import Path
from typing import Any

import numpy as np
import pytensor.tensor as pt
from pytensor.gradient import disconnected_type
from pytensor.graph.basic import Apply
from pytensor.graph.op import Op
from pytensor.link.numba.dispatch import basic as numba_basic

import cohort.transitions as transitions
from cohort.transitions.study import study_loglik


def kernel_salt(folder: Path = Path(transitions.__file__).parent) -> int:
    """A number that changes with the source of any kernel module.

    PyTensor's cache of machine code does not see into our functions; without this salt an
    edited kernel would go on running its old code.
    """
    digest = hashlib.sha256()
    for path in sorted(folder.glob("*.py")):
        digest.update(path.read_bytes())
    return int.from_bytes(digest.digest()[:7])


class FoundingLogLik(Op):
    """Log-likelihood of a study given the frailties, with its slopes as further outputs.

    Inputs: par (foundings, FOUNDING_WIDTH), shared (SHARED_WIDTH,), records, rows, nodes.
    Outputs: log-likelihood (scalar), slopes in par, slopes in shared.
    """

    __props__ = ()

    def make_node(self, *inputs: Any) -> Apply:
        """Wire the inputs to three outputs."""
        given = [pt.as_tensor_variable(v) for v in inputs]
        return Apply(self, given, [pt.dscalar(), given[0].type(), given[1].type()])

    def perform(self, node: Apply, inputs: Any, output_storage: Any) -> None:
        """Compute the three outputs outside a compiled graph."""
        value, par, shared = study_loglik(*inputs)
        output_storage[0][0] = np.asarray(value)
        output_storage[1][0] = par
        output_storage[2][0] = shared

    def infer_shape(self, node: Apply, shapes: Any) -> list[Any]:
        """Shapes of the outputs."""
        return [(), shapes[0], shapes[1]]

    def connection_pattern(self, node: Apply) -> list[list[bool]]:
        """Say that the tables are data: nothing flows back through them."""
        return [[True, False, False], [True, False, False], *([[False] * 3] * 3)]

    def pullback(self, inputs: Any, outputs: Any, cotangents: Any) -> list[Any]:
        """Slopes times what flows back into the log-likelihood."""
        back = cotangents[0]
        return [back * outputs[1], back * outputs[2], *(disconnected_type() for _ in range(3))]


@numba_basic.register_funcify_default_op_cache_key(FoundingLogLik)
def _funcify(op: FoundingLogLik, node: Apply, **kwargs: Any) -> tuple[Any, int]:
    @numba_basic.numba_njit
    def founding_loglik(par, shared, records, rows, nodes):  # type: ignore[no-untyped-def]  # compiled by numba
        value, par_slopes, shared_slopes = study_loglik(par, shared, records, rows, nodes)
        return np.asarray(value), par_slopes, shared_slopes

    return founding_loglik, kernel_salt()


founding_loglik = FoundingLogLik()
