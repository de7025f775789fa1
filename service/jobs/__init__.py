"""Work in the background: what kinds there are, how one is run, and the queue that wakes workers.

Rows of jobs are the truth; the queue only says that there is something to do. What it loses is
found in the rows again.
"""
