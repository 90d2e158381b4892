"""What in a term's records is more alike, or more even, than chance would have it.

Every detector is given a level: how many mentions a term of honest work may bring it on average.
It divides the level by the number of comparisons it makes (Bonferroni), so that a large term is
not mentioned more often than a small one. A mention is a reason to look, never a finding.
"""

MASSES, SERIES, DIGITS, LINES, REPLICATES = 0.02, 0.02, 0.02, 0.02, 0.02
"""Mentions per term that honest work may bring each detector; `tests/speed/likeness_rates.py`
counts them in simulated terms."""

PER_TERM = MASSES + SERIES + DIGITS + LINES + REPLICATES
