"""A page to print: its parts, its charts, as PDF and as HTML."""
