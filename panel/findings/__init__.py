"""What do the tables of a session allow to say, before there is any page?"""
