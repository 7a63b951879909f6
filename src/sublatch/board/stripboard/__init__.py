"""Layouts that one can solder: on stripboard, found by search and proved from their own drawing."""
