"""What lies where in an audition's folder, and what is known of it."""
