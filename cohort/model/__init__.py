"""The founding model: priors, design, coordinates, sampling, the gate and what checks the model.

Comes in: a `History`. Goes out: draws and their diagnosis. Only `nuts` reaches nutpie, inside the
function that samples, and only `graph` and `op` (the model in PyMC, which nothing samples) reach
pymc; `priors` and `design` stay light.
"""
