"""The record of a session while it runs: its entries, and what writes them down."""
