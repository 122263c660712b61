"""The Processing algorithms, one a file, and what they share."""
