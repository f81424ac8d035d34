"""What a page shows: frozen values gathered at once, for one account."""
