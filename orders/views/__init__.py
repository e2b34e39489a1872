"""Pages of the order file: fetch what this user may see, validate, act, redirect."""
