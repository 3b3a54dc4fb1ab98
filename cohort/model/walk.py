"""The sampler: a density with slopes walked by nutpie.

Comes in: a function of a vector. Goes out: draws of the vector, and the record of the steps.
Never: a model, a name.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import numpy.typing as npt
import xarray as xr

Floats = npt.NDArray[np.float64]
Density = Callable[[Floats], tuple[float, Floats]]
"""Log density up to a constant, and its slopes, at a vector."""


def walked(
    density: Density,
    width: int,
    start: Callable[[int], Floats] | None,
    *,
    seed: int,
    draws: int,
    tune: int,
    accept: float,
    chains: int,
    depth: int = 10,
) -> tuple[Floats, xr.Dataset]:
    """Draws of a density by the no-U-turn sampler.

    Parameters
    ----------
    density : callable
    width : int
        Length of the vector.
    start : callable, optional
        A vector to start from, given a seed; by default uniform between -2 and 2.
    seed : int
    draws, tune : int
        Kept and warm-up draws per chain.
    accept : float
        Target acceptance.
    chains : int
    depth : int
        Doublings of a path at most.

    Returns
    -------
    float array, shape (chains, draws, width), and Dataset
        ``diverging``, ``energy``, ``depth``, ``n_steps`` per chain and draw.
    """
    import nutpie
    from nutpie.compiled_pyfunc import from_pyfunc

    model = from_pyfunc(
        width,
        lambda: density,
        lambda *_: lambda q: {"q": np.array(q)},
        [np.dtype("float64")],
        [(width,)],
        ["q"],
        make_initial_point_fn=start,
    )
    tree = nutpie.sample(
        model,
        draws=draws,
        tune=tune,
        chains=chains,
        seed=seed,
        save_warmup=False,
        progress_bar=False,
        target_accept=accept,
        maxdepth=depth,
    )
    q = tree["posterior"]["q"].transpose("chain", "draw", ...).to_numpy()
    return q, tree["sample_stats"].to_dataset()
