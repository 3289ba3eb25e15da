"""Looks whether this computer has what a session needs, and says what is wrong in plain words."""
