"""The report: sections described as data, then rendered."""
