"""What pages show to be filled in, and what comes back from it."""
