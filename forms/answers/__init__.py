"""What counts as an answer, and what if it is unclear or contradicts another?"""
