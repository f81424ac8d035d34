"""What one person does: one function, one transaction, named by its verb."""
