"""How many assessors and cups does it take, and what could this design have found?"""
