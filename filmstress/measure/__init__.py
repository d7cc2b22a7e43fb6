"""The one place where scans, substrates, physics and statistics meet: files -> StressResult."""
