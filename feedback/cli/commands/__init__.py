"""What each word on the command line does; one module a command, loaded when asked for."""
