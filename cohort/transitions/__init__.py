"""Exact count transitions, the founding likelihood with its slopes, and the outcome recursion.

Comes in: packed studies and parameter arrays. Goes out: numbers. Compiled by numba; never
imports pymc. `counts` holds one transition, `founding` one founding, `study` the whole.
"""
