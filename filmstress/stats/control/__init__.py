"""Control charts: constants, charts over time, run rules and how often they raise a false alarm."""
