"""Windows that people see, and the words and sizes they use."""
