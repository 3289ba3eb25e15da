"""Records of sessions: the journal and its entries."""
