"""Exact count transitions, the founding likelihood with its slopes, and the outcome recursion.

Comes in: packed studies and parameter arrays. Goes out: numbers. Compiled by numba; never
imports pymc. `counts` holds one transition, `founding` one founding, `study` the whole.
"""

from __future__ import annotations

import contextlib
from pathlib import Path
from typing import Any, Final

BORROWS: Final[dict[str, Any]] = {"cache": True, "error_model": "numpy", "_nrt": False}
"""For `numba.njit` of a function that only reads and fills arrays of its caller.

numba counts who holds an array, one locked addition as a function is entered and one as it is left:
a sixth of the time of sampling. Not for a function that makes an array or hands one on.
"""


def forget_older_code(folder: Path) -> None:
    """Remove cached machine code of a folder that is older than any source there or here.

    A compiled function holds the code of those it calls, but numba looks only at the file of
    the function itself: an edit of `counts` would leave the old `study` running.
    """
    sources = [*folder.glob("*.py"), *Path(__file__).parent.glob("*.py")]
    newest = max((path.stat().st_mtime for path in sources), default=0.0)
    for kept in (folder / "__pycache__").glob("*.nb[ic]"):
        with contextlib.suppress(OSError):  # another process was first, or the folder is shared
            if kept.stat().st_mtime < newest:
                kept.unlink()


forget_older_code(Path(__file__).parent)
