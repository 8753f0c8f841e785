"""How does a person see it? Words, tables, JSON and drawings; nothing is computed here."""
