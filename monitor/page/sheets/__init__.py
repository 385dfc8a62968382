"""What is shown: the addresses that only show, a sheet each, from a look at the yard to a template."""
