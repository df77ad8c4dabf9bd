"""Open land data: what stands and runs near a place, as one plain table of features."""
