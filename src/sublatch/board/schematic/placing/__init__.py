"""Places for the parts of a network that nobody has drawn."""
