"""Pages of a guest, who has no account: all they reach hangs from one signed address."""
