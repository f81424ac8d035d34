"""Pages of the musician, one module a place."""
