"""The priors of the founding model: those of the table, or others in their place.

Comes in: changes. Goes out: `Priors`, read by `log_posterior` (for the density that is sampled), by
`graph` (the model in PyMC) and by `draw` (what the priors alone say). Never: data.

Each prior and its reason stand in `cohort.model.parameters`. Published mortality and delays behind
them are listed in ``data/findings.csv``.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import asdict, dataclass
from typing import Any, Final

import numpy as np
import numpy.typing as npt

from cohort.base.asked import number_of
from cohort.base.errors import StudyError
from cohort.likelihood.packing import STEPS
from cohort.model.families import BetweenGenera, CutNormal, Prior
from cohort.model.parameters import EFFECTS, TABLE
from cohort.terms.near import did_you_mean

__all__ = ["EFFECTS", "Priors", "draw"]
Floats = npt.NDArray[np.float64]
_DEFAULT: Final = {name: row.prior for name, row in TABLE.items() if row.prior is not None}


def _changed(name: str, given: object, held: Mapping[str, Prior]) -> Prior:
    """The prior of a parameter after a change, checked.

    Raises
    ------
    StudyError
        See `Priors`.
    """
    if name not in held:
        hint = did_you_mean(name, held)
        known = ", ".join(sorted(held))
        raise StudyError(
            f"priors: there is no parameter '{name}'." + (f" {hint}" if hint else "") + " Those "
            f"with a prior are {known}."
        )
    old = held[name]
    numbers = ", ".join(asdict(old))
    if type(given) is type(old):
        return given
    if not isinstance(given, Mapping):
        raise StudyError(
            f"priors: {name} takes a {type(old).__name__}, not a {type(given).__name__}: give "
            f"{type(old).__name__}({numbers}) of cohort.model.families, or some of these numbers "
            f"by name, as in {{'{next(iter(asdict(old)))}': 1.0}}."
        )
    unknown = sorted(set(given) - set(asdict(old)), key=str)
    if unknown:
        raise StudyError(f"priors: {name} has no '{unknown[0]}'; its numbers are {numbers}.")
    try:
        return type(old)(**(asdict(old) | dict(given)))
    except StudyError as fault:
        raise StudyError(f"priors: {name}: {fault}") from None


@dataclass(frozen=True, init=False)
class Priors:
    """Every prior of the founding model, by name of the parameter: ``priors["rivalry"]``.

    Made without arguments they are those of `cohort.model.parameters`. Some may be changed at once,
    ``Priors(together={"sd": 2.0})``, or later (`but`).

    Parameters
    ----------
    by_name : mapping, optional
        Changes, by name of the parameter.
    **changes : Prior or mapping
        The same, as arguments.

    Raises
    ------
    StudyError
        No such parameter or number, another family, or numbers that make no distribution.

    Examples
    --------
    >>> import cohort
    >>> wide = cohort.Priors(together={"sd": 2.0})
    >>> wide["together"].sd, wide["together"].between == cohort.Priors()["together"].between
    (2.0, True)
    """

    by_name: Mapping[str, Prior]

    def __init__(
        self, by_name: Mapping[str, Any] | None = None, /, **changes: Prior | Mapping[str, float]
    ) -> None:
        held = dict(_DEFAULT)
        if by_name is not None and not isinstance(by_name, Mapping):
            raise StudyError(f"priors: {by_name!r} is no mapping of names to priors.")
        for name, given in {**(by_name or {}), **changes}.items():
            held[name] = _changed(name, given, held)
        object.__setattr__(self, "by_name", held)

    def __getitem__(self, name: str) -> Any:
        """The prior of a parameter; its type is that of the table."""
        if name not in self.by_name:
            hint = did_you_mean(name, self.by_name)
            raise StudyError(f"priors: there is no parameter '{name}'. {hint}".rstrip())
        return self.by_name[name]

    def but(self, **changes: Prior | Mapping[str, float]) -> Priors:
        """The same priors, some of them changed.

        Parameters
        ----------
        **changes : Prior or mapping
            By name of the parameter: another prior of the same family, or some of its numbers,
            as in ``but(together={"sd": 2.0})``.

        Returns
        -------
        Priors

        Raises
        ------
        StudyError
            See `Priors`.

        Examples
        --------
        >>> import cohort
        >>> cohort.Priors().but(together={"sd": 2.0}, rivalry={"mean": 0.0})["rivalry"].mean
        0.0
        >>> cohort.Priors().but(togehter={"sd": 2.0})
        Traceback (most recent call last):
        ...
        cohort.base.errors.StudyError: priors: ...
        """
        new = {name: _changed(name, given, self.by_name) for name, given in changes.items()}
        return Priors({**self.by_name, **new})

    def at_strength(self, power: float) -> Priors:
        """Every prior with its density raised to a power: 0.5 is half as strong, 2 twice.

        Parameters
        ----------
        power : float
            From 0.01 to 100.

        Returns
        -------
        Priors

        Raises
        ------
        StudyError
            A beta prior with a number below 1 has no such power, or it lies beyond these.

        Examples
        --------
        >>> import cohort
        >>> plain, half = cohort.Priors(), cohort.Priors().at_strength(0.5)
        >>> round(half["together"].sd / plain["together"].sd, 3)
        1.414
        """
        power = number_of("power", power, 0.01, 100.0, "0.5 is half as strong, 2 twice")
        return Priors({name: prior.at_strength(power) for name, prior in self.by_name.items()})

    def column(self, what: str) -> Floats:
        """One number of all effects of genera.

        Parameters
        ----------
        what : str
            ``mean``, ``sd`` or ``between``.

        Returns
        -------
        float array, shape (EFFECTS,)

        Raises
        ------
        StudyError
            It is another word.

        Examples
        --------
        >>> import cohort
        >>> len(cohort.Priors().column("sd"))
        6
        """
        known = ("mean", "sd", "between")
        if what not in known:
            raise StudyError(f"priors: '{what}' is none of {', '.join(known)}.")
        return np.array([getattr(self.by_name[name], what) for name in EFFECTS])

    def as_json(self) -> str:
        """As text that `from_json` reads.

        Returns
        -------
        str

        Examples
        --------
        >>> import cohort
        >>> wide = cohort.Priors(together={"sd": 2.0})
        >>> cohort.Priors.from_json(wide.as_json()) == wide
        True
        """
        return json.dumps({name: asdict(prior) for name, prior in self.by_name.items()})

    @classmethod
    def from_json(cls, text: str) -> Priors:
        """The priors that `as_json` wrote.

        Parameters
        ----------
        text : str
            Such as lies in the attributes of ``draws.nc``.

        Returns
        -------
        Priors

        Raises
        ------
        StudyError
            They are not those of this version's parameters.

        Examples
        --------
        >>> import cohort
        >>> cohort.Priors.from_json(cohort.Priors().as_json()) == cohort.Priors()
        True
        """
        try:
            said = json.loads(text)
        except (TypeError, json.JSONDecodeError):
            raise StudyError("These are no priors: give the text that as_json wrote.") from None
        later = {name for name, row in TABLE.items() if row.leaves}  # not in what is older
        if not isinstance(said, dict) or set(said) - later != set(_DEFAULT) - later:
            raise StudyError("These priors are of another version of this program.")
        return cls().but(**said)


def draw(
    priors: Priors,
    genera: int,
    draws: int,
    rng: np.random.Generator,
    *,
    pooled_fight: bool = False,
    variant: str = "",
    winter: bool = False,
) -> dict[str, Floats]:
    """Parameters drawn from the priors alone.

    Parameters
    ----------
    priors : Priors
    genera : int
        Genera of the study.
    draws : int
    rng : numpy Generator
    pooled_fight : bool
        One share of last fights for all genera.
    variant : str
        What only this variant of the model has is drawn too.
    winter : bool
        Whether foundings go through winter: what only such a study has is drawn too.

    Returns
    -------
    dict of arrays
        The names and shapes of the posterior, first axis ``draws``; effects of genera in one array
        each of means, SDs and values by genus. What only another variant has, what needs a warmth
        log and what belongs to one keeper or flight is left out.
    """
    mean, sd, between = (priors.column(c) for c in ("mean", "sd", "between"))
    spread = np.abs(rng.normal(size=(draws, len(EFFECTS)))) * between
    active = spread.copy()
    if pooled_fight:
        active[:, EFFECTS.index("last_fight")] = 0.0
    centre = rng.normal(mean, np.sqrt(sd**2 + active**2 / genera), size=(draws, len(EFFECTS)))
    raw = rng.normal(size=(draws, len(EFFECTS), genera))
    raw -= raw.mean(axis=2, keepdims=True)
    out = {
        "genus_mean": centre,
        "genus_sd": spread,
        "genus": centre[:, :, None] + active[:, :, None] * raw,
        "walk_sd": priors["walk_sd"].draw(rng, (draws, 2)),
        "walk": rng.normal(size=(draws, STEPS)),
    }
    for name, row in TABLE.items():
        prior = priors.by_name.get(name)
        if prior is None or isinstance(prior, (CutNormal, BetweenGenera)):
            continue
        if row.shared < 0 or row.only_in not in ("", variant) or (row.leaves and not winter):
            continue
        out[name] = prior.draw(rng, (draws,))
    return out
