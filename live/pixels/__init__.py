"""What is read from the picture's own pixels: shoes and hips."""
