"""One file per question the engineer asks; each returns a frozen result."""
