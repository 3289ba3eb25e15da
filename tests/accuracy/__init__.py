"""How near the live measures come to the rendered truth; a report and its tests."""
