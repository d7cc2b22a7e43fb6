"""Before measuring: what a measurement would tell, and what would make it tell more."""
