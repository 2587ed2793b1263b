"""What a change is, how clocks tick, who wins: pure functions that know nothing of HTTP or tables."""
