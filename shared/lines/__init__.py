"""Lines against lines: matching, comparison, joins, repeat passes, parallels."""
