"""The chance of what a keeper wrote of a founding that went through winter rest, look by look.

As `by_rows`, and like it without a line of the kernel: days are those of the calendar, cut at
looks and at both ends of each winter rest; the clock of the first worker and the pieces of the
hazards go by the days outside them.
"""

import itertools
import math

import numpy as np
from by_rows import CUTS1, CUTS2, Company, Founding
from scipy.stats import lognorm


class WinterFounding(Founding):
    """One founding of k queens under given rates, in winter rest during ``winters``, (in, out]."""

    def __init__(self, k, rates, winters):
        super().__init__(k, rates)
        self.winters = winters
        self.cold = Company(k, 1 / rates.winter_company, 0.0)

    def warm(self, day):
        """Days outside winter rest up to a day."""
        return day - sum(max(0.0, min(day, b) - a) for a, b in self.winters)

    def in_cold(self, days, tilt, arrived):
        r = self.rates
        level = r.level2 * tilt**r.loading if arrived else r.level1 * tilt
        return self.cold.over(level * r.winter * r.winter_company * days)

    def _pieces(self, a, b):
        """Parts of (a, b] in order: from, to, whether cold."""
        borders = sorted({a, b, *(t for rest in self.winters for t in rest if a < t < b)})
        for low, high in itertools.pairwise(borders):
            middle = 0.5 * (low + high)
            yield low, high, any(x < middle < y for x, y in self.winters)

    def path(self, looks, e, z):
        """Chance of all looks if the clock rings on warm day e."""
        tilt = np.exp(self.rates.sigma * np.asarray(z, float))
        v = np.zeros((*tilt.shape, self.k + 1))
        v[..., self.k] = 1.0
        ghost, t, arrived = np.zeros(tilt.shape), 0.0, False
        for day, queens, workers in looks:
            for low, high, cold in self._pieces(t, day):
                a, b = self.warm(low), self.warm(high)
                if cold:
                    steps = [self.in_cold(high - low, tilt, arrived)]
                elif arrived:
                    steps = [self.after(a, b, e, tilt)]
                elif e <= b:
                    v = np.einsum("...i,...ij->...j", v, self.before(a, e, tilt))
                    ghost, v[..., 0] = v[..., 0].copy(), 0.0
                    arrived, steps = True, [self.after(e, b, e, tilt)]
                else:
                    steps = [self.before(a, b, tilt)]
                for step in steps:
                    v = np.einsum("...i,...ij->...j", v, step)
            if queens is not None:
                v = v * (np.arange(self.k + 1) == queens)
                ghost = ghost * (queens == 0)
            if workers is not None:
                v = v * (workers == int(arrived))
                ghost = ghost * (workers == 0)
            t = day
        return v.sum(-1) + ghost

    def chance(self, looks, z=0.0, *, nodes=12):
        """Chance of the looks given the frailty z."""
        r, warm = self.rates, self.warm
        clock = lognorm(r.tau, scale=math.exp(r.log_day))
        last = warm(looks[-1][0])
        total = (1 - r.phi * clock.cdf(last)) * self.path(looks, math.inf, z)
        days = [*(warm(look[0]) for look in looks), *(warm(a) for a, _ in self.winters)]
        bends = {0.0, *days, *CUTS1, *(d - c for d in days for c in CUTS2)}
        bends = sorted(b for b in bends if 0.0 <= b <= last)
        x, w = np.polynomial.legendre.leggauss(nodes)
        for a, b in itertools.pairwise(bends):
            for xi, wi in zip(x, w, strict=True):
                e = a + 0.5 * (b - a) * (xi + 1)
                total = total + r.phi * 0.5 * (b - a) * wi * clock.pdf(e) * self.path(looks, e, z)
        return total
