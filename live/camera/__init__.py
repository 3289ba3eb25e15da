"""Where pictures come from: cameras, streams, files, and the thread that reads them."""
