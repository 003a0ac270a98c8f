"""The report of a job: one page that anyone can read, made of its book and of nothing else."""
