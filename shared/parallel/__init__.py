"""Worker processes and threads, and work shared out among them."""
