"""The manual: a topic a file, shown by `sublatch manual`, and the reference of every setting."""
