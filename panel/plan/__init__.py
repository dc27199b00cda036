"""Blind codes, serving orders, pours and what it takes: the plan."""
