"""The state of a job: what the entries of its book add up to, and what it leads one to expect."""
