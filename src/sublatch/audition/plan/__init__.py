"""What is to be heard: the plan file, its candidates and moves."""
