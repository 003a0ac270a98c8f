"""What is shown and spoken: every text of a reply, and amounts in figures and in words at once."""
