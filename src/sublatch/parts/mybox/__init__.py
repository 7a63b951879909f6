"""A circuit from what is known of a box: the rest fitted to that, or taken from the nearest built-in circuit."""
