"""What does it look like? Drawings of what was worked out; saving them stands apart."""
