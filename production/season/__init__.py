"""The season page: a span of days to zoom, what it carries, its strands and its conflicts. Reads only."""
