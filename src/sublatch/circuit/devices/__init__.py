"""The devices of a circuit: classes of parts with what matters of them, and how far those on one board are off."""
