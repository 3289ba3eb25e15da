"""What the station measures and cues, as lines for other programs on this computer; read only."""
