"""What an entry or an answer is asked about, or refused for, before it is taken down."""
