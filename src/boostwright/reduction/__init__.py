"""From a raw pull to a corrected, binned pull; nothing is deleted, only masked with its reason."""
