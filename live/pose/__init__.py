"""The pose model: one picture in, body landmarks out."""
