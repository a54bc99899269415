"""One short verb for each step of the job."""
