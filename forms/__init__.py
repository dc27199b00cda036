"""What is asked, how it is written down, and how it is read back.

This room gets assessor codes, blind codes and questions, never the key: what
it does not know it cannot leak. It imports neither `analysis` nor `panel`.
"""
