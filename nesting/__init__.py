"""The engine: layouts, bounds and their check. Knows neither Qt nor files."""
