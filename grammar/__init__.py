"""What can be said, and what it means."""
