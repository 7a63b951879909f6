"""What was decided on the listening page: read back, added up, and made into a circuit and the next plan."""
