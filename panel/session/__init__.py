"""The session folder as people write it: settings, bottles, assessors, words of their own."""
