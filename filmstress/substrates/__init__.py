"""What the tool knows about substrates: constants with their sources, and the cuts of crystals."""
