"""The vocabulary that live/ and feedback/ both use: types, catalogue, problems, files."""
