"""Compiles the rules while the wheel is built, so that no run has to where there is no cache."""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path
from typing import Any

from hatchling.builders.hooks.plugin.interface import BuildHookInterface


class CustomBuildHook(BuildHookInterface[Any]):
    """Adds the compiled rules to the wheel, under the key of the files that they came from."""

    def initialize(self, version: str, build_data: dict[str, Any]) -> None:
        """Called by hatchling before the build."""
        if version == "editable":  # a checkout's rules may change at any time
            return
        sys.path.insert(0, self.root)
        from checker.run import rules_in_force

        target = Path(tempfile.mkdtemp()) / rules_in_force.PACKAGED
        target.write_bytes(rules_in_force.packaged())
        build_data["force_include"][str(target)] = f"checker/data/{rules_in_force.PACKAGED}"
