"""One script a promise: each prints its figure, the machine, and a peer if there is one."""
