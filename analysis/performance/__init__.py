"""Is the panel, and each assessor, in order: within a session and over sessions?"""
