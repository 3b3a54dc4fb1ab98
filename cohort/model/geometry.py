"""In which coordinates SDs, and what they multiply, are sampled; and the way back to plain names.

Comes in: an SD's scale, and how much the data tell of what it multiplies. Goes out: nodes of the
graph; after sampling, draws under plain names. Never: a prior of another shape.

Every effect of a level (genus, keeper, founding, step) is SD x standard normal. Two things are
changed for the sampler, neither of which changes the model:

* the SD is sampled with a sign, Normal(0, scale). Its absolute value is half-normal, and turning
  its sign together with that of the standard normals changes nothing. So the sampler passes nought
  without noticing, where a log SD has a long tail to creep along;
* in place of the standard normal w, v = w sqrt(1 + SD^2 told) is sampled, v ~ Normal(0, sqrt(1 +
  SD^2 told)). If the data tell the effect with information ``told`` (one over the square of its
  error), the precision of v given the SD is 1 whatever the SD: where the data say little this is
  the non-centred form, where they say much the centred one, and between them it turns smoothly.
  Any ``told`` gives the same posterior; a good one gives it sooner.
"""

from __future__ import annotations

from typing import Any, Final

import numpy as np
import xarray as xr

from cohort.transitions.layout import N1, N2

SIGNED: Final = "_signed"
"""Ending of the name of an SD that carries a sign."""
EASED: Final = "_eased"
"""Ending of the name of what is sampled in place of standard normals."""
PHASE_OF_STEP: Final = np.repeat([0, 1], [N1 - 1, N2 - 1])
"""Which SD of the walks multiplies each step: founding phase, then worker phase."""
TURNED: Final = {"frailty_sd": "frailty", "walk_sd": "walk"}
"""Standard normals that are kept, and so take over the sign of their SD."""


def signed_sd(name: str, scale: Any, **where: Any) -> Any:
    """A half-normal SD before its sign is taken away (`unsigned`)."""
    import pymc as pm

    return pm.Normal(f"{name}{SIGNED}", 0.0, scale, **where)


def standard(name: str, sd: Any, told: Any, **where: Any) -> Any:
    """Standard normals that ``sd`` is going to multiply, sampled in the eased coordinate."""
    import pymc as pm
    import pytensor.tensor as pt

    grown = pt.sqrt(1.0 + sd**2 * told)
    return pm.Normal(f"{name}{EASED}", 0.0, grown, **where) / grown


def unsigned(posterior: xr.Dataset) -> xr.Dataset:
    """The draws with positive SDs, their signs given to what they multiply.

    Parameters
    ----------
    posterior : Dataset
        Draws of the graph: ``<name>_signed`` beside the standard normals of `TURNED`.

    Returns
    -------
    Dataset
        ``<name>`` in place of ``<name>_signed``, and nothing that only eased the sampling.
    """
    kept = [str(name) for name in posterior.data_vars if not str(name).endswith(EASED)]
    out: dict[str, Any] = {name.removesuffix(SIGNED): posterior[name] for name in kept}
    for name in kept:
        if not name.endswith(SIGNED):
            continue
        plain = name.removesuffix(SIGNED)
        sign: Any = np.sign(posterior[name])
        out[plain] = abs(posterior[name])
        if plain not in TURNED:
            continue
        if plain == "walk_sd":
            phase = xr.DataArray(PHASE_OF_STEP, dims="step")
            sign = sign.isel(phase=phase).drop_vars("phase", errors="ignore")
        out[TURNED[plain]] = out[TURNED[plain]] * sign
    return xr.Dataset(out)
