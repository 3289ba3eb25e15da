"""From the mean stride to contacts, toe-offs and the values of each step."""
