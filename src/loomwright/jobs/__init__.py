"""Jobs: the job card, the events that happened to it, and the store that keeps them."""
