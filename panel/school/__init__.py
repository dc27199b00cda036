"""Students against an expert, over the sessions of a class."""
