"""Can the samples be told apart at all?"""
