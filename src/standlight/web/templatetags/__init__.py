"""Words that every template may use."""
