"""What a circuit is as parts: its response, the parts to buy, the sheet to build from."""
