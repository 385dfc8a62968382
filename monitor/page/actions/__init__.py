"""What people do: the addresses that take a form, have an event taken in or let somebody in, and lead back."""
