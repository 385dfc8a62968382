"""The actions of people: addresses that take a form, have an event taken in or let somebody in, and lead back."""
