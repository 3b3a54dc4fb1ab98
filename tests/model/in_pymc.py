"""The model in PyMC at the vectors of the compiled density, and as a function of plain numpy."""

import numpy as np
import pymc as pm
import pytensor.tensor as pt
from pytensor.compile.mode import Mode

from cohort.model.parameters import EFFECTS
from cohort.model.written_parts import COORDINATE, SIGNED

#: Neither rewritten nor compiled: seconds, not a minute.
PLAIN = Mode(linker="py", optimizer=None)


def plain_name(value_name):
    """Name of a parameter from that of the variable PyMC walks."""
    for ending in ("_stretch__", "_log__", "_logodds__", "_interval__", SIGNED, COORDINATE):
        value_name = value_name.removesuffix(ending)
    return value_name


def point_of(model, target, q):
    """The point of the model at a vector of the density: both walk the same coordinates."""
    out = {}
    for value in model.value_vars:
        name = plain_name(value.name)
        if name == "contrasts":
            place = slice(target.where[EFFECTS[0]].start, target.where[EFFECTS[-1]].stop)
            out[value.name] = q[place].reshape(len(EFFECTS), -1)
        else:
            own = q[target.where[name]]
            out[value.name] = own if value.type.ndim else np.array(own[0])
    return out


def function_of(model, of=None, *, slopes=False, also=()):
    """A function of a point: the sum of log densities, and its slopes by variable if asked for."""
    # terms in a stack: more than 32 in one sum is more than plain numpy takes
    terms = model.logp(vars=of, sum=False)
    total = pt.stack([term.sum() for term in terms]).sum()
    outputs = [total, *model.replace_rvs_by_values(list(also))]
    if slopes:
        outputs += pt.grad(total, model.value_vars)
    compiled = model.compile_fn(
        outputs, inputs=model.value_vars, mode=PLAIN, point_fn=True, on_unused_input="ignore"
    )

    def at(point):
        found = compiled(point)
        names = [v.name for v in model.value_vars]
        rest = dict(zip(names, found[1 + len(also) :], strict=True)) if slopes else {}
        return float(found[0]), found[1 : 1 + len(also)], rest

    return at


def drawn(variables, draws, seed):
    """Draws of some variables of a model, by the priors alone."""
    return pm.draw(variables, draws=draws, random_seed=seed, mode=PLAIN)
