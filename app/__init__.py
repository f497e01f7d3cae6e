"""The program: command line and window."""
