"""The command line: one command, one file; nothing heavy is imported before a command runs."""
