"""The options and help text of each command: one module a command, without slow imports."""
