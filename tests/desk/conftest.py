"""A browser for the forms."""

from browsing import browser

__all__ = ["browser"]
