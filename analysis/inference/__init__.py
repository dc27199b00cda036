"""How sure is one number: shares, equivalence, many tests at once, shrinkage?"""
