"""Figures of results, the only place that knows matplotlib; without pyplot, so without a screen."""
