"""Files read and written: sound files, and every file whole or not at all."""
