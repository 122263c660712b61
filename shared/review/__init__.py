"""What a reviewer looks at: which lines deserve it, worst first, and the numbers behind a line."""
