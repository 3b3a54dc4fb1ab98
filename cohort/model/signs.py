"""SDs that are sampled with a sign, and how the sign is taken away again.

Comes in: draws of the graph. Goes out: the same draws with every SD at least nought. Never: a
prior.

An SD multiplies standard normals. Sampled as Normal(0, scale), its absolute value is half-normal
with that scale, and turning its sign together with the sign of what it multiplies changes
nothing: the likelihood reads the product. The sampler then passes nought without noticing, where
a log SD has a long tail to creep along (measured in DEVELOPERS.md).
"""

from __future__ import annotations

from typing import Any, Final

import numpy as np
import xarray as xr

from cohort.transitions.layout import N1, N2

SIGNED: Final = "_signed"
"""Ending of the name of an SD that carries a sign."""

PHASE_OF_STEP: Final = np.repeat([0, 1], [N1 - 1, N2 - 1])
"""Which SD of the walks multiplies each step: founding phase, then worker phase."""


def unsigned(posterior: xr.Dataset) -> xr.Dataset:
    """The draws with positive SDs, their signs given to what they multiply.

    Parameters
    ----------
    posterior : Dataset
        Draws of the graph: ``<name>_signed`` beside the standard normals ``frailty``, ``walk``
        and ``<level>_raw``.

    Returns
    -------
    Dataset
        ``<name>`` in place of ``<name>_signed``.
    """
    signs: dict[str, Any] = {}
    out: dict[str, Any] = {}
    for sampled, values in posterior.data_vars.items():
        name = str(sampled)
        if name.endswith(SIGNED):
            name = name.removesuffix(SIGNED)
            signs[name], values = np.sign(values), abs(values)
        out[name] = values
    for name, sign in signs.items():
        times = name.removesuffix("_sd")
        if times == "walk":
            phase = xr.DataArray(PHASE_OF_STEP, dims="step")
            sign = sign.isel(phase=phase).drop_vars("phase", errors="ignore")
        times = f"{times}_raw" if f"{times}_raw" in out else times
        out[times] = out[times] * sign
    return xr.Dataset(out)
