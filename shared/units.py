"""Units of time for pure modules, which must not import a clock."""

from typing import Final

NS_PER_S: Final = 1_000_000_000
NS_PER_MS: Final = 1_000_000
