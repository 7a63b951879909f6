"""The octave stage: a note switched by the drive, and the bend of a transconductance pair ahead of that."""
