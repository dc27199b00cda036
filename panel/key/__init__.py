"""Where a code meets its bottle: opening the key, and the tables after it."""
