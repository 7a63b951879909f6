"""The build sheet: all that a builder takes to the bench, as one printable HTML file."""
