"""The API of the desk, the season and the work: one class per operation, each with its own input and output."""
