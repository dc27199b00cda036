"""Which words and faults were ticked, for which bottle, and do they tell bottles apart?"""
