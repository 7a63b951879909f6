"""What a shop asks for: every part to order with its package and pitch, hardware too, and the netlist pin by pin."""
