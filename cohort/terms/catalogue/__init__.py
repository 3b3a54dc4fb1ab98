"""Sentences that several commands say, one file for each language; see `cohort.terms.voice`."""
