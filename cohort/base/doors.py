"""Methods that are a short way to a function of a later room.

Comes in: where that function stands. Goes out: what it gives. Never: an import while modules load.
Whoever holds a study wants to write ``study.survival(...)``, but a study knows nothing of curves:
what a method does stands further on, and is looked up when the method is called.
"""

from __future__ import annotations

import importlib
from typing import Any, Final

FACE: Final = "cohort.face"
"""The room of what scripts and notebooks ask for in one line."""


def call(name: str, *args: Any, room: str = FACE, **how: Any) -> Any:
    """What a function of another room gives.

    Parameters
    ----------
    name : str
    *args, **how
        Handed on.
    room : str
        Module in which it stands.
    """
    return getattr(importlib.import_module(room), name)(*args, **how)
