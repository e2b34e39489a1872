"""The API of the bill: one class per operation, each with its own input and output."""
