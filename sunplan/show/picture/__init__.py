"""What does it look like? Figures of what was worked out; saving them stands apart."""
