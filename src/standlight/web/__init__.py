"""Pages: what people see and press. Views read, call one action or query, and answer."""
