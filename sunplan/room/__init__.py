"""Where does the beam go? Model and sun vectors in, moments, patches and touched marks out."""
