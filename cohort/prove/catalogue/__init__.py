"""Sentences of this room, one file for each language; see `cohort.terms.voice`."""
