"""The start window: the whole job without a command line; it starts the commands as processes."""
