"""Six patterns of demand over a season of sixteen weeks, for tests/bench/cold.py: grafted plants to be handed out.

Made up, and kept as they were before the first run: no number here was chosen by what comes out.
"""

WEEKS = 16

PATTERNS: dict[str, tuple[int, ...]] = {
    # in hundreds of plants, week by week
    "one hill": (1, 2, 3, 4, 6, 8, 10, 12, 12, 10, 8, 6, 4, 3, 2, 1),
    "one week of all weeks": (3, 3, 3, 3, 4, 4, 6, 24, 6, 4, 4, 3, 3, 3, 3, 3),
    "two hills": (2, 4, 8, 12, 8, 4, 2, 2, 2, 2, 4, 8, 12, 8, 4, 2),
    "a rush that fades": (8, 16, 14, 12, 10, 8, 6, 5, 4, 3, 3, 2, 2, 1, 1, 1),
    "growing to the end": (1, 1, 1, 2, 2, 3, 3, 4, 5, 6, 8, 10, 12, 14, 16, 8),
    "every third week": (2, 2, 14, 2, 2, 14, 2, 2, 14, 2, 2, 14, 2, 2, 14, 2),
}
