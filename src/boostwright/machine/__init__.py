"""The build, its parts, and the operating point where blower and engine agree."""
