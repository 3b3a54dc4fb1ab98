"""``python -m cohort``: the same as ``cohort``."""

from cohort.cli import command

if __name__ == "__main__":
    command()
