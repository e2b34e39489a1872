"""Forms of growing: they only validate; what is done with the values is a service's."""
