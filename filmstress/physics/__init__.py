"""Equations: SI floats in, SI floats out, each with its source and its limits."""
