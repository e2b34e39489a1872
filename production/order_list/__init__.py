"""A list of orders as somebody else keeps it: its columns, its rows as orders, what is wrong in which row."""
