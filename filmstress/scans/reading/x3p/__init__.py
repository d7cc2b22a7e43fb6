"""X3P files (ISO 25178-72): a zip archive, guarded; a description in XML; points."""
