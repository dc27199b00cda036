"""How are variance components, degrees of freedom and contrasts of a mixed model estimated?"""
