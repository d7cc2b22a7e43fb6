"""The record of a lot: everything needed to recompute it, chained to the record before it."""
