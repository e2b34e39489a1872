"""What production reads: one module for each question. Nothing here writes."""
