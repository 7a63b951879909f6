"""What a circuit does to a take: detector, divider, octave stage, filters, output."""
