"""The measurement backwards: from a known truth to the scans of an instrument."""
