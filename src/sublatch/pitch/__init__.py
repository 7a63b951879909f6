"""What was played, whatever the circuit: reference pitch, onsets, notes, open strings."""
