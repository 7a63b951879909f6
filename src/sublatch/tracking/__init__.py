"""Does it track: the pitch of a take, its notes, and where a circuit's drive holds on to them."""
