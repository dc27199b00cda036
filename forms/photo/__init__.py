"""The printed sheet read back from a photo or scan."""
