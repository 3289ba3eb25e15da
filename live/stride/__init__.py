"""The mean stride, the phase in it, and which leg is which."""
