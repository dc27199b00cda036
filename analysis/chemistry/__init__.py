"""What do the numbers of the meter say about a bottle, a blend or a label?"""
