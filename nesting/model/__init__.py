"""The language of the domain: curves, parts, stock, placements, jobs."""
