"""What is one bottle like: its profile, nose against palate, its course in the mouth?"""
