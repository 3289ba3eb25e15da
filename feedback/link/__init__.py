"""The link between the station and its screens."""
