"""Families of priors: frozen numbers that can be drawn from, weighed and printed.

Comes in: numbers. Goes out: `Normal`, `HalfNormal`, `LogNormal`, `Beta`, `CutNormal` and
`BetweenGenera`. Never: a name of a parameter, data.

Each knows the row of the compiled table it becomes (`cohort.likelihood.packing`): ``family`` and
the two numbers ``a`` and ``b``.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, fields
from numbers import Real
from typing import ClassVar, Self

import numpy as np
import numpy.typing as npt
from scipy import stats

from cohort.base.errors import StudyError
from cohort.likelihood import packing as at

Floats = npt.NDArray[np.float64]
Shape = tuple[int, ...]


def _check(prior: object, positive: tuple[str, ...]) -> None:
    """Refuse numbers that make no distribution.

    Raises
    ------
    StudyError
        A number is not finite, or one that must be above 0 is not.
    """
    name = type(prior).__name__
    for field in fields(prior):  # type: ignore[arg-type]  # a dataclass by construction
        value = getattr(prior, field.name)
        if not isinstance(value, Real) or isinstance(value, bool) or not math.isfinite(value):
            raise StudyError(f"{name}: {field.name} must be a number; it is {value!r}.")
        if field.name in positive and value <= 0:
            raise StudyError(f"{name}: {field.name} must be above 0; it is {float(value):g}.")


@dataclass(frozen=True)
class Normal:
    """Normal with a mean and an SD."""

    mean: float
    sd: float
    family: ClassVar[int] = at.NORMAL

    def __post_init__(self) -> None:
        """See `_check`."""
        _check(self, ("sd",))

    @property
    def a(self) -> float:
        """Middle of the coordinate."""
        return self.mean

    @property
    def b(self) -> float:
        """Spread of the coordinate."""
        return self.sd

    def draw(self, rng: np.random.Generator, shape: Shape) -> Floats:
        """Draws of a shape."""
        return rng.normal(self.mean, self.sd, shape)

    def logpdf(self, x: Floats) -> Floats:
        """Log density of the parameter."""
        return np.asarray(stats.norm.logpdf(x, self.mean, self.sd))

    def at_strength(self, power: float) -> Self:
        """The same with its density raised to a power; of a log-normal, that of the log."""
        return type(self)(self.mean, self.sd / math.sqrt(power))

    def __str__(self) -> str:
        """As it is printed."""
        return f"Normal({self.mean:.4g}, {self.sd:.4g})"


@dataclass(frozen=True)
class HalfNormal:
    """Half-normal with a scale, of an SD; the SD is walked with a sign, as Normal(0, scale)."""

    scale: float
    family: ClassVar[int] = at.NORMAL

    def __post_init__(self) -> None:
        """See `_check`."""
        _check(self, ("scale",))

    @property
    def a(self) -> float:
        """Middle of the coordinate."""
        return 0.0

    @property
    def b(self) -> float:
        """Spread of the coordinate."""
        return self.scale

    def draw(self, rng: np.random.Generator, shape: Shape) -> Floats:
        """Draws of a shape, all positive."""
        return np.abs(rng.normal(0.0, self.scale, shape))

    def logpdf(self, x: Floats) -> Floats:
        """Log density of the parameter."""
        return np.asarray(stats.halfnorm.logpdf(x, scale=self.scale))

    def at_strength(self, power: float) -> HalfNormal:
        """The same with its density raised to a power."""
        return HalfNormal(self.scale / math.sqrt(power))

    def __str__(self) -> str:
        """As it is printed."""
        return f"HalfNormal({self.scale:.4g})"


@dataclass(frozen=True)
class LogNormal(Normal):
    """Log-normal: mean and SD of the log."""

    family: ClassVar[int] = at.LOG_NORMAL

    def draw(self, rng: np.random.Generator, shape: Shape) -> Floats:
        """Draws of a shape."""
        return rng.lognormal(self.mean, self.sd, shape)

    def logpdf(self, x: Floats) -> Floats:
        """Log density of the parameter."""
        return np.asarray(stats.lognorm.logpdf(x, self.sd, scale=math.exp(self.mean)))

    def __str__(self) -> str:
        """As it is printed."""
        return f"its log Normal({self.mean:.4g}, {self.sd:.4g})"


@dataclass(frozen=True)
class Beta:
    """Beta with its two numbers."""

    a: float
    b: float
    family: ClassVar[int] = at.LOGIT_BETA

    def __post_init__(self) -> None:
        """See `_check`."""
        _check(self, ("a", "b"))

    def draw(self, rng: np.random.Generator, shape: Shape) -> Floats:
        """Draws of a shape."""
        return rng.beta(self.a, self.b, shape)

    def logpdf(self, x: Floats) -> Floats:
        """Log density of the parameter."""
        return np.asarray(stats.beta.logpdf(x, self.a, self.b))

    def at_strength(self, power: float) -> Beta:
        """The same with its density raised to a power."""
        return Beta((self.a - 1.0) * power + 1.0, (self.b - 1.0) * power + 1.0)

    def __str__(self) -> str:
        """As it is printed."""
        return f"Beta({self.a:.4g}, {self.b:.4g})"


@dataclass(frozen=True)
class CutNormal(Normal):
    """Normal cut off at limits that the study sets."""

    family: ClassVar[int] = at.CUT_NORMAL

    def between(self, x: Floats, low: float, high: float) -> Floats:
        """Log density of the parameter between two limits."""
        ends = [(end - self.mean) / self.sd for end in (low, high)]
        return np.asarray(stats.truncnorm.logpdf(x, *ends, self.mean, self.sd))

    def __str__(self) -> str:
        """As it is printed."""
        return f"Normal({self.mean:.4g}, {self.sd:.4g}), cut off"


@dataclass(frozen=True)
class BetweenGenera:
    """Prior of an effect that differs between genera.

    Attributes
    ----------
    mean, sd : float
        Normal prior of the mean over all genera.
    between : float
        Scale of the half-normal prior of the SD between genera.
    """

    mean: float
    sd: float
    between: float
    family: ClassVar[int] = at.GENUS

    def __post_init__(self) -> None:
        """See `_check`."""
        _check(self, ("sd", "between"))

    @property
    def a(self) -> float:
        """Middle of the mean."""
        return self.mean

    @property
    def b(self) -> float:
        """Spread of the mean."""
        return self.sd

    def at_strength(self, power: float) -> BetweenGenera:
        """The same with the densities of mean and SD raised to a power."""
        root = math.sqrt(power)
        return BetweenGenera(self.mean, self.sd / root, self.between / root)

    def __str__(self) -> str:
        """As it is printed."""
        return f"mean Normal({self.mean:.2f}, {self.sd:.4g}); SD HalfNormal({self.between:.4g})"


Prior = Normal | HalfNormal | LogNormal | Beta | CutNormal | BetweenGenera
