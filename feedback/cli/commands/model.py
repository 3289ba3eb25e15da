"""``beltside model``: build the pose model if need be, and check that it can be used."""

from __future__ import annotations

import argparse

from feedback.cli.common.pose_model import model_path
from feedback.terminal.guard import OK, say
from live.pose.model import PoseModel
from shared.language import _


def run(options: argparse.Namespace) -> int:
    """Build or find the model, load it, and say where it is."""
    path = model_path(options.model)
    with PoseModel(path):
        say(_("The pose model is ready: {path}").format(path=path))
    return OK
