"""Forms of the order file: they only validate; what is done with the values is a service's."""
