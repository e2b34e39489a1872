"""What production does when the order file changes: mark the plan stale and write a job, nothing heavier."""
