"""Are the samples ranked alike, in whole and in incomplete blocks?"""
