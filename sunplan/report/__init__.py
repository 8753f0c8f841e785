"""What is said? Results in; documents, rows and JSON out."""
