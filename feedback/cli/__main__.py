"""``python -m feedback.cli``: the same as ``beltside``."""

from feedback.cli.main import main

raise SystemExit(main())
