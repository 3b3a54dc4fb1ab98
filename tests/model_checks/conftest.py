"""Fixtures of the checks of the model."""
