"""Where is the sun, and when is it dark? Place and times in, directions and moments out."""
