"""sunplan: what sun and sky will do to every setup, from a floor plan and a date."""

__version__ = "0.1.0"
