"""Joins the page to the daemon: the yard that it shows, what people do on it, the papers and labels made there."""
