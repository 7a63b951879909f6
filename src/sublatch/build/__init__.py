"""What a builder needs of a circuit: part choice, knobs, tolerances, and the circuit as a board."""
