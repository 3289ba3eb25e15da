"""What several windows share: colours, lettering, the Stop button, and how windows are started."""
