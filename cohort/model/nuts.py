"""The sampler: a compiled density with its gradient, sampled by nutpie.

Comes in: a function to be called by address (see `callbacks.DENSITY`) and the vector `packed` that
holds all it reads. Goes out: draws of q, and the record of the steps. Never: a model, a name.

nutpie calls the density by its address, so the chains run side by side and no call goes through
Python: with small densities that costs twice the density itself. What nutpie is handed is what its
own compiling of a PyMC model ends in (`nutpie.compile_pymc.CompiledPyMCModel`).
"""

from __future__ import annotations

from collections.abc import Callable
from contextlib import suppress
from functools import cache
from typing import Any

import numpy as np
import numpy.typing as npt
import xarray as xr

from cohort.base import background, telling
from cohort.base.errors import StudyError
from cohort.likelihood.callbacks import EXPANDED, as_callback, copied

Floats = npt.NDArray[np.float64]


def sample_nuts(
    density: Any,
    packed: Floats,
    width: int,
    start: Callable[[int], Floats],
    *,
    seed: int,
    draws: int,
    tune: int,
    accept: float,
    chains: int,
    depth: int = 10,
    split: bool = False,
) -> tuple[Floats, xr.Dataset]:
    """Draws of a density by the no-U-turn sampler.

    Parameters
    ----------
    density : function
        To be compiled with the signature `DENSITY`, and kept on disk.
    packed : float array, shape (numbers,)
        All the density reads, its first number its length.
    width : int
        Length of q.
    start : callable
        A vector to start from, shape (width,), given a seed.
    seed : int
    draws, tune : int
        Kept and warm-up draws per chain.
    accept : float
        Target acceptance.
    chains : int
    depth : int
        Doublings of a path at most.
    split : bool
        Go along the standard normal that the adapted scales make of the posterior exactly, and
        step for what differs from it alone: longer steps where there are many coordinates
        (Shahbaba, Lan, Johnson & Neal 2014, doi 10.1007/s11222-012-9373-1).

    Returns
    -------
    float array, shape (chains, draws, width), and Dataset
        ``diverging``, ``energy``, ``depth``, ``n_steps`` per chain and draw.

    Raises
    ------
    StudyError
        There are fewer draws than were asked for, or no threads to be had.
    KeyboardInterrupt
        It was broken off (Ctrl-C): no draws, though nutpie by itself would hand over those it has.
    """
    model = _kind(split)(
        compiled_logp_func=as_callback(density),
        compiled_expand_func=as_callback(copied, EXPANDED),
        initial_point_func=start,
        shared_data={},
        shared_var_keys={},
        user_data=np.ascontiguousarray(packed, np.float64),  # read by its address
        n_expanded=width,
        shape_info=(["q"], [slice(0, width)], [(width,)]),
        logp_func=None,
        expand_func=None,
        dims={},
        _n_dim=width,
        _shapes={"q": (width,)},
        _coords={},
    )
    tree = _walked(
        model, draws=draws, tune=tune, chains=chains, seed=seed, target_accept=accept,
        maxdepth=depth,
    )  # fmt: skip
    q = tree["posterior"]["q"].transpose("chain", "draw", ...).to_numpy()
    return whole(q, chains, draws), tree["sample_stats"].to_dataset()


@cache
def _kind(split: bool) -> Any:
    """The class nutpie wants of a compiled model; ``split`` as in `sample_nuts`."""
    from nutpie.compile_pymc import CompiledPyMCModel

    class Split(CompiledPyMCModel):  # type: ignore[misc]  # untyped
        """One whose sampler goes along a normal exactly: a setting nutpie gives no argument for."""

        def _make_sampler(self, settings: Any, *rest: Any) -> Any:
            have = settings.as_dict()["settings"]
            settings.update_settings(have | {"trajectory_kind": "ExactNormal"})
            return super()._make_sampler(settings, *rest)

    return Split if split else CompiledPyMCModel


def _walked(model: Any, **how: Any) -> xr.DataTree:
    """Draws of a compiled model, or none at all where it was broken off.

    Raises
    ------
    StudyError
        There are no threads to be had.
    """
    import nutpie

    try:
        walk = nutpie.sample(
            model, save_warmup=False, progress_bar=False, blocking=False,
            progress_callback=_telling(), **how,
        )  # fmt: skip
    except BaseException as fault:
        if type(fault).__name__ == "PanicException" and "thread" in str(fault):
            raise StudyError(
                background.NO_THREAD_TOLD
            ) from fault  # how nutpie's own language says it
        raise
    try:
        tree: xr.DataTree = walk.wait()
    except BaseException:
        with suppress(Exception):
            walk.cancel()
        raise
    return tree


def _telling() -> Callable[[list[Any]], None] | None:
    """What nutpie calls, from a thread of its own, with how far its chains are; else None."""
    listens = telling.listener()
    if listens is None:
        return None

    def tell(walks: list[Any]) -> None:
        chains = tuple(
            telling.Chain(int(w.finished_draws), int(w.total_draws), int(w.divergences))
            for w in walks
        )
        listens(telling.Far(sum(c.done for c in chains), sum(c.of for c in chains), chains))

    return tell


def compiled(model: Any) -> Any:
    """A PyMC model compiled for `sample_compiled`: half a minute or more the first time."""
    import nutpie

    return nutpie.compile_pymc_model(model)


def sample_compiled(
    model: Any, *, seed: int, draws: int, tune: int, accept: float, chains: int, depth: int
) -> tuple[xr.Dataset, xr.Dataset]:
    """Draws of a compiled PyMC model, by name, and the record of the steps; see `sample_nuts`.

    Raises
    ------
    StudyError
        There are fewer draws than were asked for, no threads, or no place to start from.
    """
    try:
        tree = _walked(
            model, draws=draws, tune=tune, chains=chains, seed=seed, target_accept=accept,
            maxdepth=depth,
        )  # fmt: skip
    except RuntimeError as fault:
        raise StudyError(
            "The sampler found no place to start from: the log density of the model is no number "
            f"there. Look at what was added to it. (nutpie said: {str(fault).splitlines()[0]})"
        ) from fault
    posterior = tree["posterior"].to_dataset()
    whole(np.zeros((posterior.sizes["chain"], posterior.sizes["draw"])), chains, draws)
    return posterior, tree["sample_stats"].to_dataset()


def whole(q: Floats, chains: int, draws: int) -> Floats:
    """Draws as they are, if there are as many as were asked for.

    Raises
    ------
    StudyError
    """
    if q.shape[:2] != (chains, draws):
        raise StudyError(
            f"The sampler stopped early: {q.shape[0]} chains of {q.shape[1]:,} draws, and not "
            f"{chains} of {draws:,}. They are not used. Run the same again."
        )
    return q
