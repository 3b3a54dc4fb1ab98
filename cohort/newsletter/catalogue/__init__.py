"""One module per language, each holding every sentence of the page.

In comes nothing; out comes `CATALOGUE`. Another language is one more module with the same keys
and the same blanks; a test compares them. Never holds a number of a study.
"""
