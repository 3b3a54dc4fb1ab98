"""Count transitions: matrix exponentials, ours and another program's; wrong forms that fail."""

import math

import numpy as np
import pytest
from by_rows import Company, generator
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad
from scipy.linalg import expm
from scipy.stats import binom

from cohort.likelihood.closed import company
from cohort.likelihood.transition_probabilities import (
    SHORT,
    death_and_survival,
    last_pair,
    step,
)

# P(6 -> 0..6) for H = 1.2, rho = .05 by another program: MatrixExp of the package msm 1.7 on R
# 4.2.2 (Pade and series agree), run on 2026-11-29; its generator was written there, not here.
OF_MSM = {
    0.0: (0.007276483866501, 0.410321620676222),
    0.15: (0.068824726967934, 0.348773377574788),
    0.4: (0.171405132136990, 0.246192972405733),
}
SEVERAL_OF_MSM = (
    0.324496843441105, 0.186483040437097, 0.060282427560960, 0.010392998209738, 0.000746585808377
)  # fmt: skip


@pytest.mark.parametrize("H", [1e-3, 0.05, 0.4, 1.2, 3.0, 9.0])
@pytest.mark.parametrize("rho", [0.05, 0.3, 1.0, 2.7, 20.0])
@pytest.mark.parametrize("theta", [0.0, 0.15, 1.0])
def test_steps_are_rows_of_the_matrix_exponential(H, rho, theta):
    for n in (*range(7), 16):
        exact = expm(generator(n, rho, theta) * H)[n]
        ours = [step(n, m, H, rho, theta)[0] for m in range(n + 1)]
        assert ours == pytest.approx(exact, rel=1e-8, abs=1e-12)
        assert sum(ours) == pytest.approx(1, abs=1e-12)


@pytest.mark.parametrize("theta", OF_MSM)
def test_steps_are_those_of_another_program(theta):
    ours = [step(6, m, 1.2, 0.05, theta)[0] for m in range(7)]
    assert ours == pytest.approx([*OF_MSM[theta], *SEVERAL_OF_MSM], abs=1e-11)
    # a last queen that goes on dying as in company would be another number
    sticking = [step(6, m, 1.2, 1.0, theta)[0] for m in range(7)]
    assert abs(sticking[1] - OF_MSM[theta][1]) > 0.05


def test_a_pure_death_process_is_binomial():
    """Textbook (Bailey 1964, The Elements of Stochastic Processes, 8.5; from memory).

    Where company changes nothing and no loss takes two, each queen lives on her own.
    """
    for n in (1, 2, 3, 6, 12):
        ours = [step(n, m, 0.8, 1.0, 0.0)[0] for m in range(n + 1)]
        assert ours == pytest.approx(binom(n, math.exp(-0.8)).pmf(range(n + 1)), abs=1e-12)


def test_the_loss_of_all_is_never_one_minus_the_rest():
    # At n = 6, H = .001 five deaths in H have chance 6 H^5, and theta of them take the last too:
    # a few roundings of one. Held to the power series of the exponential (its first two terms).
    n, H, rho = 6, 1e-3, 0.05
    power = np.linalg.matrix_power
    worst = 0.0
    for theta in (0.0, 0.02, 0.15, 0.4):
        q = generator(n, rho, theta) * H
        exact = power(q, 5)[n, 0] / math.factorial(5) + power(q, 6)[n, 0] / math.factorial(6)
        ours = step(n, 0, H, rho, theta)[0]
        assert ours == pytest.approx(exact, rel=1e-4)
        rest = 1.0 - sum(step(n, m, H, rho, theta)[0] for m in range(1, n + 1))
        worst = max(worst, abs(rest / ours - 1))
    assert worst > 0.2  # 24 % or more, by how the roundings fall


def test_slopes_are_differences():
    d = 1e-6
    for n in range(1, 7):
        for m in range(n + 1):
            at = (0.7, 0.4, 0.2)
            _, *gradient = step(n, m, *at)
            for j, slope in enumerate(gradient):
                up, down = list(at), list(at)
                up[j] += d
                down[j] -= d
                gap = (step(n, m, *up)[0] - step(n, m, *down)[0]) / (2 * d)
                assert slope == pytest.approx(gap, abs=1e-8)


def test_two_stretches_make_one():
    # Chapman-Kolmogorov, in the kernel's own steps.
    first, second, rho, theta = 0.3, 0.9, 0.37, 0.2
    for n in range(7):
        for m in range(n + 1):
            whole = step(n, m, first + second, rho, theta)[0]
            parts = sum(
                step(n, c, first, rho, theta)[0] * step(c, m, second, rho, theta)[0]
                for c in range(m, n + 1)
            )
            assert parts == pytest.approx(whole, rel=1e-10, abs=1e-15)
            # A last queen that kept the hazard of company would not add up.
            wrong = sum(
                step(n, c, first, rho, theta)[0] * step(c, m, second, 1.0, theta)[0]
                for c in range(m, n + 1)
            )
            if n >= 2 and m == 1:
                assert abs(wrong / whole - 1) > 0.05


def test_impossible_steps_have_no_chance():
    assert step(2, 3, 0.5, 1.0, 0.1) == (0.0, 0.0, 0.0, 0.0)
    assert step(0, 0, 0.5, 1.0, 0.1)[0] == 1.0


def test_the_three_integrals_of_the_last_fight():
    # alive + gone = share of companies that have ended; wait is minus the derivative of alive in
    # rho.
    n, H, rho, d = 4, 1.1, 0.6, 1e-6
    alive, gone, wait = last_pair(n, H, rho, *death_and_survival(H))
    ended = sum(Company(n, rho, 0.0).expm(H)[n, :2])
    assert alive + gone == pytest.approx(ended, rel=1e-10)
    slope = (
        last_pair(n, H, rho + d, *death_and_survival(H))[0]
        - last_pair(n, H, rho - d, *death_and_survival(H))[0]
    ) / (2 * d)
    assert -wait == pytest.approx(slope, rel=1e-6)


def test_the_reference_by_eigenvectors_is_the_matrix_exponential():
    for n, rho, theta in ((3, 0.15, 0.2), (6, 0.4, 0.0), (2, 2.5, 0.9)):
        company = Company(n, rho, theta)
        for H in np.array([0.0, 0.2, 2.0]):
            assert company.over(H) == pytest.approx(company.expm(H), abs=1e-12)


@pytest.mark.parametrize("n", [2, 3])
@pytest.mark.parametrize("rho", [0.03, 0.7, 2.0, 2.0 + 1e-9, 2.3, 3.0, 40.0])
@pytest.mark.parametrize("H", [0.011, 0.2, 1.7, 6.0])
def test_two_and_three_queens_in_closed_form(n, rho, H):
    # against adaptive quadrature; near rho = 2 and 3 the quotient is taken from its series
    def density(u):
        return n * (n - 1) * (1 - np.exp(-u)) ** (n - 2) * np.exp(-2 * u)

    want = [
        quad(lambda u, f=f: density(u) * f(H - u), 0, H, epsabs=1e-15, epsrel=1e-12)[0]
        for f in (
            lambda t: np.exp(-rho * t),
            lambda t: -np.expm1(-rho * t),
            lambda t: t * np.exp(-rho * t),
        )
    ]
    assert last_pair(n, H, rho, *death_and_survival(H)) == pytest.approx(want, rel=1e-9, abs=1e-14)


@pytest.mark.parametrize("n", [2, 3, 4])
@pytest.mark.parametrize("rho", [0.01, 1.0, 2.0, 7.0, 40.0])
@pytest.mark.parametrize("share", [0.999, 0.3, 1e-4])
def test_a_few_queens_over_a_short_time(n, rho, share):
    # relative to quadrature in shares of H, where nothing cancels; digits of the chance count
    H = share * SHORT / (n + rho)

    def kept(x, f):
        dead = -np.expm1(-H * x)
        return H * n * (n - 1) * dead ** (n - 2) * (1 - dead) ** 2 * f(H * (1 - x))

    want = [
        quad(kept, 0, 1, args=(f,), epsabs=0, epsrel=1e-13)[0]
        for f in (
            lambda t: np.exp(-rho * t),
            lambda t: -np.expm1(-rho * t),
            lambda t: t * np.exp(-rho * t),
        )
    ]
    got = last_pair(n, H, rho, *death_and_survival(H))
    assert got == pytest.approx(want, rel=1e-11, abs=0)
    x, w = np.polynomial.legendre.leggauss(2)  # two nodes would not do
    few = sum(0.5 * w * kept(0.5 * (x + 1), lambda t: -np.expm1(-rho * t)))
    assert n < 4 or share < 0.1 or abs(few / want[1] - 1) > 1e-5


@given(
    st.integers(2, 7),
    st.floats(0.0, 8.0),
    st.one_of(
        st.floats(0.01, 30.0),
        st.sampled_from([2.0, 3.0, 5.0, 2 + 1e-7, 4 - 1e-6, 4 - 9e-6, 4 - 1.1e-5]),
    ),
    st.floats(0.0, 1.0),
)
def test_rows_in_closed_form_are_the_steps(n, H, rho, theta):
    table = np.zeros((n + 1, 2))
    lone = np.array([1.0, np.exp(-rho * H)])
    accompanied = np.array([1.0, np.exp(-H)])
    company(n, np.array([0.0, H]), rho, 1.0 / rho, lone, accompanied, theta, table)
    assert table[:, 0] == pytest.approx(np.eye(n + 1)[n])
    steps = [step(n, m, H, rho, theta)[0] for m in range(n + 1)]
    assert table[:, 1] == pytest.approx(steps, abs=2e-8)
    wrong = H + 0.3 if H < 1 else H / 2
    accompanied[1] = np.exp(-wrong)
    company(n, np.array([0.0, wrong]), rho, 1.0 / rho, lone, accompanied, theta, table)
    assert abs(table[:, 1] - steps).max() > 1e-6
