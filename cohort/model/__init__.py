"""The founding model: priors, lineup, graph, sampling, the gate and what checks the model.

Comes in: a `History`. Goes out: draws and their diagnosis. Only this package and `power` reach
pymc and nutpie, and only inside the functions that sample; `priors` and `lineup` stay light.
"""
