"""The pages that lead through a session at home."""
