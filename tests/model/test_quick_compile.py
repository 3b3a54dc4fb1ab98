"""Compiling number by number gives what nutpie's own way gives."""

import ctypes

import numpy as np
import pytest


def answers(compiled, x):
    """Return code, log density and slopes of a compiled model."""
    call = ctypes.CFUNCTYPE(ctypes.c_int64, ctypes.c_uint64, *([ctypes.c_void_p] * 4))(
        compiled.compiled_logp_func.address
    )
    slopes, value = np.zeros(compiled.n_dim), np.zeros(1)
    code = call(
        compiled.n_dim,
        x.ctypes.data,
        slopes.ctypes.data,
        value.ctypes.data,
        compiled.user_data.ctypes.data,
    )
    return code, value[0], slopes


def test_same_numbers_and_the_same_refusals():
    import nutpie
    import pymc as pm

    from cohort.model.quick_compile import plain_copies

    with pm.Model() as model:
        a = pm.Normal("a", 0.0, 1.0, shape=3)
        pm.Deterministic("b", a**2)
        pm.Potential("wall", pm.math.log(a[0] + 1.0))  # none below -1
    theirs = nutpie.compile_pymc_model(model)
    with plain_copies() as possible:
        assert possible
        ours = nutpie.compile_pymc_model(model)
    for x in (np.array([0.3, -0.2, 1.1]), np.array([-0.5, 4.0, 0.0])):
        code, value, slopes = answers(ours, x)
        assert (code, value) == answers(theirs, x)[:2]
        assert slopes == pytest.approx(answers(theirs, x)[2], abs=1e-14)
        assert code == 0
    assert answers(ours, np.array([-3.0, 0.0, 0.0]))[0] != 0
    draws = nutpie.sample(ours, draws=20, tune=20, chains=1, seed=1, progress_bar=False)
    kept = draws["posterior"]
    assert kept["b"].to_numpy() == pytest.approx(kept["a"].to_numpy() ** 2)


def test_nothing_is_replaced_where_the_functions_are_missing(monkeypatch):
    from nutpie import compile_pymc

    from cohort.model.quick_compile import plain_copies

    own = compile_pymc._make_c_logp_func
    monkeypatch.delattr(compile_pymc, "_make_c_expand_func")
    with plain_copies() as possible:
        assert not possible
        assert compile_pymc._make_c_logp_func is own
