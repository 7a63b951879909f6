"""The pictures of a tracking job."""
