"""The commands, one word and one file each.

A file holds `command`, a click command, and `SECTION`, the catalogue key of
the group it is listed under. Files that begin with an underscore are shared
parts. Heavy imports stand inside the functions: commands start fast.
"""
