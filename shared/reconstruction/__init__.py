"""The main job, from a table of epochs to edges."""
