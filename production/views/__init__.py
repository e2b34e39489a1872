"""Pages of growing: fetch what this user may see, validate, act, redirect."""
