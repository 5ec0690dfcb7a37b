"""One file for each step of the job: what it shows and what can be done there."""
