"""The options of each command and the text of its help: one module a command. They import nothing that takes time."""
