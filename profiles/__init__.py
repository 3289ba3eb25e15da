"""Athletes, drills and plans that come with the program, as TOML files."""
