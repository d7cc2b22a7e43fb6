"""SDF files (ISO 25178-71): a header and heights, as text or binary."""
