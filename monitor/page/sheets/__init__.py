"""The sheets: addresses that only show, each from a look at the yard to a template."""
