"""Several sessions together: history of a panel, groups of people."""
