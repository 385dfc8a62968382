"""The commands, a module each; a module is imported only when its command is called."""
