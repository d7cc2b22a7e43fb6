"""Benchmarks and long simulations; each module's docstring gives its command."""
