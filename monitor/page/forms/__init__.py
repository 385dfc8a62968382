"""What people write into the forms of the page: from their fields to an event, or to a sentence that says what is wrong."""
