"""One equation a function, SI only, pure: same inputs, same output."""
