"""What the result layers of other algorithms say should be looked at again, layer by layer."""
