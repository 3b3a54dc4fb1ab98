"""A fit that was broken off is no fit: draws cut short are refused wherever they come from."""

import numpy as np
import pytest
import xarray as xr
from test_gate import GOOD, posterior, stats

from cohort.base.errors import StudyError
from cohort.likelihood.density import density_c
from cohort.model import nuts
from cohort.model.gate import judge


class Sampler:
    """Hands over as many draws as it is made with, or is broken off."""

    def __init__(self, draws, fault=None):
        self.draws, self.fault, self.ended = draws, fault, False

    def wait(self):
        if self.fault is not None:
            raise self.fault
        q = xr.Dataset({"q": (("chain", "draw", "at"), np.zeros((4, self.draws, 3)))})
        return xr.DataTree.from_dict({"posterior": q, "sample_stats": q})

    abort = wait

    def cancel(self):
        self.ended = True


def sample_nuts(monkeypatch, sampler):
    import nutpie

    def sample(model, blocking=True, **given):
        if not blocking:
            return sampler
        try:  # as nutpie does it by itself
            return sampler.wait()
        except KeyboardInterrupt:
            return Sampler(476).wait()

    monkeypatch.setattr(nutpie, "sample", sample)
    given = dict(seed=1, draws=1000, tune=300, accept=0.9, chains=4)
    return nuts.sample_nuts(density_c, np.zeros(9), 3, lambda seed: np.zeros(3), **given)


def test_all_draws_are_handed_on(monkeypatch):
    q, _ = sample_nuts(monkeypatch, Sampler(1000))
    assert q.shape == (4, 1000, 3)


@pytest.mark.parametrize("draws", [0, 476, 999])
def test_fewer_draws_than_asked_for_are_refused(monkeypatch, draws):
    with pytest.raises(StudyError, match=f"4 chains of {draws} draws, and not 4 of 1,000"):
        sample_nuts(monkeypatch, Sampler(draws))


def test_ctrl_c_is_passed_on_and_the_sampler_ended(monkeypatch):
    sampler = Sampler(1000, KeyboardInterrupt())
    with pytest.raises(KeyboardInterrupt):
        sample_nuts(monkeypatch, sampler)
    assert sampler.ended


def test_the_gate_is_shut_to_a_cut_posterior():
    """It may well have settled by every other measure."""
    assert judge(posterior(), stats(), GOOD, asked=1000).settled
    found = judge(posterior(draws=900), stats(draws=900), GOOD, asked=1000)
    assert not found.settled
    assert found.reasons == ("the sampler stopped after 900 of 1,000 draws of each chain",)


def test_without_threads_the_sampler_says_so_in_plain_words(monkeypatch):
    import nutpie

    class PanicException(BaseException):  # of Rust, as its bridge to Python names it
        pass

    def sample(*given, **more):
        raise PanicException("OS can't spawn worker thread: Resource temporarily unavailable")

    monkeypatch.setattr(nutpie, "sample", sample)
    with pytest.raises(StudyError, match="No further thread can be begun"):
        nuts.sample_nuts(
            density_c, np.zeros(9), 3, np.zeros, seed=1, draws=9, tune=9, accept=0.9, chains=1
        )
