"""The search for a detector that holds better to a player's own notes."""
