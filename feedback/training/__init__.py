"""What is trained: baseline, goals, drill, plan, and what the blocks came to."""
