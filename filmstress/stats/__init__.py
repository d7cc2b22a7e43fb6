"""Statistics that know nothing of wafers: numbers in, numbers out."""
