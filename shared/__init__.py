"""The vocabulary that live/ and feedback/ both use: types, catalogue, problems, files."""

import shared.threads as _threads  # noqa: F401 - before numpy
