"""What a board must be before anybody solders it: pins that are used once, nets that are driven, levels in range."""
