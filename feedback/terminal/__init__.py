"""The terminal: what is said there, how the program is called, and the guard against tracebacks."""
