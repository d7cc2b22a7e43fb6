"""The measurement backwards: from a known truth to the scans that an instrument would have written."""
