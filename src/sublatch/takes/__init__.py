"""A take: one recorded performance in volts, what there is to say of it, and how full scale is found."""
