"""Reports as one HTML page that needs nothing beside it: no network, no script."""
