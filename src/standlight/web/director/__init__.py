"""Pages of the director, one module a place."""
