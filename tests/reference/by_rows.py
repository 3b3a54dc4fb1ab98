"""The chance of what a keeper wrote, look by look, from the rules of the model alone.

Shares no line with the kernel: transitions are matrix exponentials of the death process, looks
are taken one at a time, and the unseen day of the first worker is summed over by plain
quadrature between every two days at which something may bend. Slow, and only for tests.

A look is (day, queens or None, workers 1, 0 or None), None meaning that nobody looked.
"""

import itertools
import math
from dataclasses import dataclass, replace

import numpy as np
from scipy.integrate import quad_vec
from scipy.linalg import expm
from scipy.stats import lognorm

CUTS1 = (0.0, 7.0, 21.0, 42.0, 70.0)
CUTS2 = (0.0, 10.0, 30.0, 60.0)


@dataclass(frozen=True)
class Rates:
    """Rates of one founding; ``ratio1`` and ``log_day`` are those of its size."""

    level1: float = 0.005
    ratio1: float = 1.0
    level2: float = 0.002
    ratio2: float = math.exp(1.9)
    theta: float = 0.15
    log_day: float = math.log(48.0)
    tau: float = 0.12
    phi: float = 1.0
    sigma: float = 0.0
    loading: float = 1.0
    steps1: tuple[float, ...] = (0.0,) * 5
    steps2: tuple[float, ...] = (0.0,) * 4
    winter: float = 1.0  # hazard of a lone queen in winter rest over that of the level piece
    winter_company: float = 1.0  # ratio while two or more live, in winter rest

    def but(self, **changes):
        return replace(self, **changes)


def generator(n, rho, theta):
    """Generator of the count of living queens, per unit of accompanied hazard."""
    q = np.zeros((n + 1, n + 1))
    for c in range(3, n + 1):
        q[c, c - 1], q[c, c] = c, -c
    if n >= 2:
        q[2, 1], q[2, 0], q[2, 2] = 2 * (1 - theta), 2 * theta, -2
    if n >= 1:
        q[1, 0], q[1, 1] = rho, -rho
    return q


class Company:
    """Transition matrices of one phase for any array of H."""

    def __init__(self, n, rho, theta):
        self.q = generator(n, rho, theta)
        self.values, self.vectors = np.linalg.eig(self.q)  # complex only by rounding
        self.back = np.linalg.inv(self.vectors)
        if np.linalg.cond(self.vectors) > 1e8:
            raise ValueError("rho too near a whole number for the eigenvectors")

    def over(self, H):
        grown = np.exp(np.asarray(H)[..., None] * self.values)
        return ((self.vectors * grown[..., None, :]) @ self.back).real

    def expm(self, H):
        return expm(self.q * H)


def exposed(a, b, cuts, steps):
    """Days of (a, b] weighted by the step of each piece."""
    total = 0.0
    for j, low in enumerate(cuts):
        high = cuts[j + 1] if j + 1 < len(cuts) else math.inf
        total += math.exp(steps[j]) * max(0.0, min(b, high) - max(a, low))
    return total


class Founding:
    """One founding of k queens under given rates."""

    def __init__(self, k, rates):
        self.k, self.rates = k, rates
        self.phase1 = Company(k, 1 / rates.ratio1, 0.0)
        self.phase2 = Company(k, 1 / rates.ratio2, rates.theta)

    def before(self, a, b, tilt):
        r = self.rates
        return self.phase1.over(r.level1 * r.ratio1 * tilt * exposed(a, b, CUTS1, r.steps1))

    def after(self, a, b, e, tilt):
        r = self.rates
        days = exposed(a - e, b - e, CUTS2, r.steps2)
        return self.phase2.over(r.level2 * r.ratio2 * tilt**r.loading * days)

    def path(self, looks, e, z):
        """Chance of all looks if the clock of the first worker rings at e; shape of z."""
        tilt = np.exp(self.rates.sigma * np.asarray(z, float))
        v = np.zeros((*tilt.shape, self.k + 1))
        v[..., self.k] = 1.0
        ghost = np.zeros(tilt.shape)  # the clock rang when nobody lived
        t, arrived = 0.0, False
        for look in looks:
            day, queens, workers = look[:3]
            if not arrived and e <= day:
                v = np.einsum("...i,...ij->...j", v, self.before(t, e, tilt))
                ghost, v[..., 0] = v[..., 0].copy(), 0.0
                arrived, t = True, e
            step = self.after(t, day, e, tilt) if arrived else self.before(t, day, tilt)
            v = np.einsum("...i,...ij->...j", v, step)
            if queens is not None:
                only = np.zeros(self.k + 1)
                only[queens] = 1.0
                v = v * only
                ghost = ghost * (queens == 0)
            if workers is not None:
                v = v * (workers == int(arrived))
                ghost = ghost * (workers == 0)
            if len(look) > 3:  # queens taken out after the count
                v = np.concatenate([v[..., look[3] :], np.zeros((*tilt.shape, look[3]))], -1)
            t = day
        return v.sum(-1) + ghost

    def _bends(self, looks):
        days = [look[0] for look in looks]
        bends = {0.0, *days, *(c for c in CUTS1 if c < days[-1])}
        bends |= {d - c for d in days for c in CUTS2 if d - c > 0}
        return sorted(b for b in bends if b <= days[-1])

    def chance(self, looks, z=0.0, *, nodes=12, adaptive=False):
        """Chance of the looks given the frailty z (number or array)."""
        r = self.rates
        clock = lognorm(r.tau, scale=math.exp(r.log_day))
        last = looks[-1][0]
        never = self.path(looks, math.inf, z)
        total = (1 - r.phi * clock.cdf(last)) * never
        bends = self._bends(looks)
        if adaptive:
            part, _ = quad_vec(
                lambda e: clock.pdf(e) * self.path(looks, e, z),
                0.0,
                last,
                points=bends[1:-1],
                epsabs=1e-12,
                epsrel=1e-6,
            )
            return total + r.phi * part
        x, w = np.polynomial.legendre.leggauss(nodes)
        for a, b in itertools.pairwise(bends):
            for xi, wi in zip(x, w, strict=True):
                e = a + 0.5 * (b - a) * (xi + 1)
                total = total + r.phi * 0.5 * (b - a) * wi * clock.pdf(e) * self.path(looks, e, z)
        return total

    def marginal(self, looks, *, points=121, reach=9.0, **how):
        """Chance of the looks, the frailty averaged over by a fine trapezoid."""
        if self.rates.sigma == 0.0:
            return float(self.chance(looks, **how))
        z = np.linspace(-reach, reach, points)
        weight = np.exp(-0.5 * z**2) / math.sqrt(2 * math.pi) * (z[1] - z[0])
        return float((weight * self.chance(looks, z, **how)).sum())
