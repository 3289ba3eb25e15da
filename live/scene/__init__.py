"""How the body stands in the picture: view, place, posture, and why nothing is measured."""
