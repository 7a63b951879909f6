"""What pictures share: paper, the one plotter of responses, and how a picture is written."""
