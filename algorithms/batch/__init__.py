"""Results of many layers in one folder."""
