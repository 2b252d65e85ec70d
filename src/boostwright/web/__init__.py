"""The local web app: the second door, over the same studies as the command line; it does no arithmetic of its own."""
