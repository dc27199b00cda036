"""How far is each student from the expert, and in what?"""
