"""Benches: what the product costs and how long things take, as ratios within one run."""

import shared.threads as _threads  # noqa: F401 - before numpy, as in the product
