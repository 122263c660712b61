"""What the host needs or gives: field types, dependency check, feedback."""
