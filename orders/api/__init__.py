"""The API of the order file: one class per operation, each with its own input and output."""
