"""What is this place? A location file in, a frozen and checked model out."""
