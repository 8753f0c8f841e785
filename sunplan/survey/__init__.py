"""How does one come to know the place? What was measured or answered, as values with their ±."""
