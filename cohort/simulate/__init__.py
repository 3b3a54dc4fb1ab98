"""Studies with a known truth, lived through event by event, apart from the likelihood."""
