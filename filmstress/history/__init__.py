"""The recorded results: the only database.  Schema in numbered steps, one door for writing."""
