"""The founding likelihood and its gradient, from exact transition probabilities.

Comes in: packed studies and parameter arrays. Goes out: numbers. Compiled by numba; never
imports pymc. `transition_probabilities` holds one transition, `founding` one founding, `study` the
whole.
"""

from __future__ import annotations

from typing import Any, Final

from cohort.likelihood import machine_code

BORROWS: Final[dict[str, Any]] = {"cache": True, "error_model": "numpy", "_nrt": False}
"""For `numba.njit` of a function that only reads and fills arrays of its caller.

numba counts who holds an array, one locked addition as a function is entered and one as it is left:
a sixth of the time of sampling. Not for a function that makes an array or hands one on.
"""

ONCE: Final[dict[str, Any]] = {"cache": True, "error_model": "numpy", "inline": "always"}
"""For `numba.njit` of a function that is called from one place: it is made part of its caller.

A function of its own is compiled once more for each function above it.
"""

KEPT: Final = machine_code.install()
"""Whether machine code is kept by `machine_code` (false: by numba's own rules)."""
