"""Pictures of tracking: pitch and dropouts over time, and lock over note and playing level."""
