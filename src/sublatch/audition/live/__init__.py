"""What the listening page needs to make the sound after the octave stage itself: parts, bare sounds, loudness."""
