"""One module a step, in order."""
