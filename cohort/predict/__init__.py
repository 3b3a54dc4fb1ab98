"""What becomes of foundings: new ones, open ones, replicated ones. Compiled; never: data fitted."""
