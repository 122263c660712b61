"""Epochs before there is a line: the table, times, fixes, logs, screening, standing still."""
